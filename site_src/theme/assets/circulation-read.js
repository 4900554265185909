// Reads a trace as a person would: the five pressures, the notch, and what the heart did meanwhile. The same rules as
// `pressures.py` and `strip.py` of the model, under the same names; tests hold one to the other.
(() => {
  "use strict";
  const { Circulation } = window.alarmtrees;
  const { Loop, Rhythm, systole } = Circulation;

  const BEFORE_NOTCH = 0.15;
  const AFTER_NOTCH = 0.08;

  /** A pressure over time, and what heart and balloon did meanwhile; moments in s, `begin` the first of them. */
  class Trace {
    /**
     * @param {object} values of the model
     * @param {{begin: number, length: number, lag: number}} at
     * @param {{pressure: Float64Array, out: Float64Array, ventricle: Float64Array}} lines
     * @param {number[]} beats the R waves
     * @param {Array<[number, number]>} strokes when each filling and emptying begins
     */
    constructor(values, { begin, length, lag = 0 }, { pressure, out, ventricle }, beats, strokes) {
      Object.assign(this, { values, begin, sample: values.sample, length, lag, pressure });
      this.beats = this.beatsOf(beats, strokes, out, ventricle);
    }

    index(time) {
      return Math.min(Math.max(Math.round((time - this.begin) / this.sample), 0), this.length - 1);
    }

    at(index) { return { time: this.begin + index * this.sample, pressure: this.pressure[index] }; }

    /** The place of the highest point (`sign` 1), or of the lowest (-1), between two moments of the heart. */
    extreme(begin, end, sign) {
      const first = this.index(begin + this.lag);
      const last = Math.max(this.index(end + this.lag), first);
      let best = first;
      for (let at = first + 1; at <= last; at++) if (sign * (this.pressure[at] - this.pressure[best]) > 0) best = at;
      return this.at(best);
    }

    highest(begin, end) { return this.extreme(begin, end, 1); }
    lowest(begin, end) { return this.extreme(begin, end, -1); }

    /** The heartbeats that lie wholly in what was kept. */
    beatsOf(beats, strokes, out, ventricle) {
      const found = [];
      let helped = false;
      beats.slice(0, -1).forEach((start, number) => {
        const end = beats[number + 1];
        const stroke = strokes.find(([fill]) => start <= fill && fill < end) || null;
        const first = Math.round((start - this.begin) / this.sample);
        const last = Math.round((end - this.begin) / this.sample);
        if (first >= 0 && last < this.length) {
          found.push({ start, end, helped, stroke, ...this.beatIn(first, last, out, ventricle) });
        }
        helped = Boolean(stroke);
      });
      return found;
    }

    beatIn(first, last, out, ventricle) {
      let opens = null;
      let shuts = null;
      let volume = 0;
      let top = first;
      for (let at = first; at < last; at++) {
        if (opens === null && out[at] > this.values.ejects) opens = at;
        if (opens !== null && shuts === null && out[at] <= 0) shuts = at;
        volume += out[at] * this.sample;
        if (ventricle[at] > ventricle[top]) top = at;
      }
      if (opens !== null && shuts === null) shuts = last;
      const moment = (at) => (at === null ? null : this.begin + at * this.sample);
      const did = { opens_at: 0, integral: 0 };
      if (opens !== null) {
        did.opens_at = ventricle[opens];
        did.integral = this.loadIn(first, last, top, ventricle);
      }
      return { opens: moment(opens), shuts: moment(shuts), volume, ventricle: ventricle[top], ...did };
    }

    /** Until it has fallen to half: a balloon that shuts the valve early would cut a sum to its closure short. */
    loadIn(first, last, top, ventricle) {
      let load = 0;
      for (let at = first; at < last && (at < top || ventricle[at] >= ventricle[top] / 2); at++) {
        load += ventricle[at] * this.sample;
      }
      return load;
    }
  }

  /** The peak that the heart itself makes; null where the pressure still rises when the balloon fills. */
  function systoleOf(trace, beat) {
    if (beat.opens === null) return null;
    if (!beat.stroke || beat.stroke[0] >= beat.shuts) return trace.highest(beat.opens, beat.shuts);
    const peak = trace.highest(beat.opens, Math.max(beat.stroke[0], beat.opens));
    const after = Math.min(trace.index(peak.time) + 1, trace.length - 1);
    return trace.pressure[after] > peak.pressure ? null : peak;
  }

  /** The highest point of the balloon's hump: what is left of systole as filling begins is none of it. */
  function augmentedIn(trace, beat) {
    if (!beat.stroke) return null;
    const [begin, end] = beat.stroke;
    const turns = trace.lowest(begin, Math.min(begin + trace.values.hump_within, end)).time - trace.lag;
    return trace.highest(turns, end);
  }

  /** The lowest point before a beat's upstroke. */
  function endBefore(trace, beat) {
    if (beat.opens === null) return null;
    const peak = trace.highest(beat.opens, beat.stroke ? Math.min(beat.shuts, beat.stroke[0]) : beat.shuts);
    const to = Math.max(peak.time - trace.lag, beat.opens + trace.sample);
    return trace.lowest(beat.start - trace.values.before_beat, to);
  }

  /** The place of the first beat with a stroke whose next beat ejects; -1 without any. */
  const firstBalloonBeat = ({ beats }) =>
    beats.findIndex((beat, at) => beat.stroke && at + 1 < beats.length && beats[at + 1].opens !== null);

  /** The five pressures, on the first beats that show them; null where a trace has no such point. */
  function fivePressures(trace) {
    const { beats } = trace;
    const five = {
      unassisted_systole: null, augmented: null, assisted_end: null, assisted_systole: null, unassisted_end: null,
    };
    const at = firstBalloonBeat(trace);
    if (at < 0) {
      const ejecting = beats.filter((beat) => beat.opens !== null).slice(0, 2);
      if (!ejecting.length) return five;
      five.unassisted_systole = systoleOf(trace, ejecting[0]);
      five.unassisted_end = endBefore(trace, ejecting[ejecting.length - 1]);
      return five;
    }
    const free = beats.slice(at + 2).find((beat) => !beat.helped);
    const own = beats.slice(at).filter((beat) => !beat.helped).map((beat) => systoleOf(trace, beat));
    five.unassisted_systole = own.find(Boolean) || null;
    five.augmented = augmentedIn(trace, beats[at]);
    five.assisted_end = endBefore(trace, beats[at + 1]);
    five.assisted_systole = systoleOf(trace, beats[at + 1]);
    if (free) five.unassisted_end = endBefore(trace, free);
    return five;
  }

  /** The notch of a beat: the lowest point of a dip near the valve's closure; null where there is none to see. */
  function notchIn(trace, beat) {
    if (beat.shuts === null) return null;
    const { pressure, length, values: { notch_reach: [early, late] } } = trace;
    const from = Math.max(trace.index(beat.shuts + trace.lag + early), 1);
    const to = Math.min(trace.index(beat.shuts + trace.lag + late), length - 1);
    for (let at = from; at < to; at++) {
      if (pressure[at - 1] > pressure[at] && pressure[at] <= pressure[at + 1] && isDip(trace, at)) return trace.at(at);
    }
    return null;
  }

  function isDip({ pressure, sample, length, values }, at) {
    const most = (first, last) => {
      let high = -Infinity;
      for (let one = Math.max(first, 0); one <= Math.min(last, length - 1); one++) high = Math.max(high, pressure[one]);
      return high - pressure[at];
    };
    const before = most(at - Math.round(BEFORE_NOTCH / sample), at);
    return before >= values.fall && most(at, at + Math.round(AFTER_NOTCH / sample)) >= values.rise;
  }

  /** How long the pressure has stopped falling by the emptying when the valve opens, s. */
  function hollowOf(trace, own, helped) {
    if (!own.stroke || helped.opens === null) return 0;
    const last = trace.index(helped.opens + trace.lag);
    let at = trace.index(own.stroke[1] + 0.02 + trace.lag);
    while (at < last && trace.pressure[at + 1] <= trace.pressure[at]) at += 1;
    return Math.max(last - at, 0) * trace.sample;
  }

  /** A trace in short, as `strip.py` has it; `fill` is by how much filling is moved. */
  function stripOf(trace, toRise) {
    const at = firstBalloonBeat(trace);
    const own = trace.beats[Math.max(at, 0)];
    const helped = at < 0 ? null : trace.beats[at + 1];
    const first = helped || own;
    const waits = ({ opens, start, end }) => (opens === null ? end : opens) - start;
    const gave = (beat) => [beat.volume, beat.ventricle, beat.opens_at, waits(beat), beat.integral];
    return {
      trace,
      five: fivePressures(trace),
      notch: notchIn(trace, own),
      notch_to_rise: helped ? toRise : null,
      hollow: helped ? hollowOf(trace, own, helped) : null,
      isovolumic: waits(first),
      helped: helped ? gave(helped) : null,
      free: own.helped ? null : gave(own),
      peaks: trace.beats.map((beat) => augmentedIn(trace, beat)).filter(Boolean).map((point) => point.pressure),
    };
  }

  /** What is named on one beat of a trace: its five pressures as far as it has them, and its notch. */
  function marksOf(trace, number) {
    const beat = trace.beats[number];
    if (!beat) return [];
    const marks = [
      [systoleOf(trace, beat), beat.helped ? "4" : "1", false],
      [augmentedIn(trace, beat), "2", false],
      [endBefore(trace, beat), beat.helped ? "3" : "5", true],
      [beat.stroke ? notchIn(trace, beat) : null, "N", true],
    ];
    return marks.filter(([point]) => point).map(([point, sign, low]) => ({ ...point, sign, low }));
  }

  /** What is kept of a play, and where it is found. */
  const KEPT = [
    ["pressure", "seen"], ["out", "outflow"], ["ventricle", "ventricle"], ["filled", "filled"], ["gas", "gas"],
    ["ecg", "ecg"],
  ];

  /** Just before an R wave that a stroke follows in 1:1, 1:2 and 1:3, when all has settled. */
  function beginOf(values, scene) {
    const rhythm = new Rhythm(values, scene);
    let number = 0;
    while (rhythm.r[number % rhythm.r.length] < values.settles || number % values.round) {
      number += 1;
      while (rhythm.known <= number) rhythm.know();
    }
    return rhythm.r[number % rhythm.r.length] - values.lead;
  }

  /** A scene played from rest until it has settled, and its strip; the same as `play` of the model. */
  function play(values, given, lasts = values.lasts) {
    const { sample, step, settles } = values;
    const scene = "closure" in given ? given : { ...given, ...usualOf(values, given) };
    const loop = new Loop(values, scene, settles);
    const every = Math.round(sample / step);
    const first = Math.round(beginOf(values, scene) / sample);
    const length = Math.round(lasts / sample) + 1;
    const lines = Object.fromEntries(KEPT.map(([name]) => [name, new Float64Array(length)]));
    const beats = [];
    // Until its delay is over and its swings have died, a line shows what it saw at first.
    const runIn = Math.round(values.run_in / sample);
    if (scene.flush) loop.line.flush(first * sample + values.flush.at[0]);
    for (let at = 0; at < first + length; at++) {
      if (at >= first - runIn) loop.sample();
      if (at >= first) KEPT.forEach(([name, from]) => { lines[name][at - first] = loop[from]; });
      for (let number = 0; number < every; number++) loop.step();
      while (beats.length <= loop.beat) beats.push(loop.beatAt(beats.length));
    }
    const trace = new Trace(values, { begin: first * sample, length, lag: loop.lag }, lines, beats, loop.strokes());
    return { scene, loop, trace, lines, strip: stripOf(trace, values.fill_at + scene.fill) };
  }

  const usuals = new Map();

  /**
   * From the R wave to the opening and to the closure of the valve without a balloon, s: filling is timed by it. Worked
   * out once for each patient.
   */
  function usualOf(values, { rate, resistance, stiffness, compliance }) {
    const key = [rate, resistance, stiffness, compliance].join();
    if (!usuals.has(key)) {
      const patient = { ...values.usual, every: 0, rate, resistance, stiffness, compliance, closure: 0, opens: 0 };
      const { beats } = play(values, patient, values.lead + 2.2 * 60 / rate).trace;
      const beat = beats.find((one) => one.shuts !== null);
      usuals.set(key, beat ? { opens: beat.opens - beat.start, closure: beat.shuts - beat.start }
        : { opens: 0.1, closure: systole(60 / rate) });
    }
    return usuals.get(key);
  }

  Object.assign(Circulation, { usualOf, marksOf, play, Trace, fivePressures, notchIn, stripOf });
})();
