// What lies around the circulation: when the heart beats, its ECG, what the pump takes as a beat and when it fills and
// empties by that, and the line that shows the pressure. The rules of `rhythm.py`, `ecg.py`, `trigger.py` and
// `transducer.py` of the model under the same names, but as time goes on: nobody here knows what comes later.
(() => {
  "use strict";

  /** How much is known of what was, in beats and marks; those of long ago are written over. */
  const ROUND = 32;
  const SIGNALS = 1024;
  const FAR = 6;

  /** Systole in s after an interval (Weissler 1968). @type {(interval: number) => number} */
  const systole = (interval) => (546.0 - 2.1 * Math.min(Math.max(60 / interval, 40), 150)) / 1000;

  const RINGS = ["r", "grid", "p", "spike", "atrial", "wide", "before"];

  const own = (r, rhythm) => ({ r, p: r - rhythm.p_before });
  const paced = (r, rhythm) => ({ r, spike: r - rhythm.ventricle_spike, wide: true });

  /** What stands in a beat that is due at a moment, by what the heart does. */
  const WAVES = {
    compressions: (r) => ({ r }),
    even: own,
    "extra-beats": (r, rhythm, number, interval) => {
      if (number % rhythm.extra_every !== rhythm.extra_place) return own(r, rhythm);
      return { r: r - rhythm.extra_early * interval, wide: true };
    },
    fibrillation: (r) => ({ r }),
    paced,
    "paced-atria": (r, rhythm) => ({ r, spike: r - rhythm.atrium_spike, p: r - rhythm.atrium_spike + 0.05 }),
    "paced-both": (r, rhythm) => {
      const atrial = r - rhythm.ventricle_spike - rhythm.both_spikes;
      return { ...paced(r, rhythm), atrial, p: atrial + 0.05 };
    },
    "paced-on-demand": (r, rhythm, number, interval) => {
      const isPaced = rhythm.demand[number % rhythm.demand.length];
      return isPaced ? paced(r, rhythm) : own(r - rhythm.own_early * interval, rhythm);
    },
  };

  /** The heartbeats, some of them ahead. */
  class Rhythm {
    constructor(values, scene) {
      this.values = values;
      RINGS.forEach((name) => { this[name] = new Float64Array(ROUND); });
      this.known = 0;
      this.scene = scene;
      this.know();
      this.know();
      this.before[0] = this.r[1] - this.r[0];
    }

    /** The same beats as another. */
    take(other) {
      RINGS.forEach((name) => this[name].set(other[name]));
      this.known = other.known;
    }

    /** One beat more. What the heart does has no spike and no P wave where these are NaN. */
    know() {
      const { values: { rhythm }, scene } = this;
      const number = this.known++;
      const at = number % ROUND;
      const last = (number + ROUND - 1) % ROUND;
      let interval = 60 / scene.rate;
      const { length } = rhythm.uneven;
      if (scene.rhythm === "fibrillation") interval = rhythm.uneven[(number + length - 1) % length];
      this.grid[at] = number ? this.grid[last] + interval : 0;
      if (scene.rhythm === "compressions" && number && number % rhythm.spell === 0) this.grid[at] += rhythm.pause;
      const wave = WAVES[scene.rhythm](this.grid[at], rhythm, number, interval);
      this.r[at] = wave.r;
      ["spike", "atrial", "p"].forEach((name) => { this[name][at] = name in wave ? wave[name] : NaN; });
      this.wide[at] = wave.wide ? 1 : 0;
      this.before[at] = number ? wave.r - this.r[last] : 0;
    }

    /** The ECG at a moment, mV. */
    ecg(time, beat) {
      const { values: { ecg }, scene } = this;
      const flutters = ecg.flutters[scene.rhythm] || [];
      const [share, tall] = scene.trigger === "ecg-and-t" ? ecg.tall_t : [1, 0.28];
      let line = 0;
      for (let one = 0; one < flutters.length; one++) {
        line += flutters[one][2] * Math.sin(2 * Math.PI * flutters[one][0] * time + flutters[one][1]);
      }
      for (let number = Math.max(beat - 1, 0); number < this.known; number++) {
        const at = number % ROUND;
        const r = this.r[at];
        if (scene.rhythm === "compressions") {
          line += bell(time, r + ecg.pressed[0], ecg.pressed[1], ecg.pressed[2]);
          continue;
        }
        if (this.p[at] === this.p[at]) line += bell(time, this.p[at], 0.022, 0.13);
        if (this.atrial[at] === this.atrial[at]) line += bell(time, this.atrial[at], 0.0015, 0.7);
        if (this.spike[at] === this.spike[at]) line += bell(time, this.spike[at], 0.0015, 0.7);
        const shape = this.wide[at] ? ecg.wide : ecg.narrow;
        for (let one = 0; one < shape.length; one++) {
          line += bell(time, r + shape[one][0], shape[one][1], shape[one][2] * share);
        }
        const top = this.tTop(at);
        line += this.wide[at] ? bell(time, top + 0.035, 0.055, -0.3) : bell(time, top, 0.042, tall);
      }
      return line;
    }

    /** The top of the T wave of a narrow beat. */
    tTop(at) {
      return this.r[at] - this.values.ecg.qrs_begins + 0.4 * Math.cbrt(Math.min(Math.max(this.before[at], 0.4), 1.5))
        - 0.085;
    }
  }

  function bell(time, middle, width, height) {
    const x = (time - middle) / width;
    return Math.abs(x) > FAR ? 0 : height * Math.exp(-x * x / 2);
  }

  /** What the pump takes as beats, and what it does by that. */
  class Trigger {
    constructor(values, scene, rhythm) {
      Object.assign(this, { values, rhythm });
      this.seen = new Float64Array(ROUND);
      this.count = 0;
      this.beat = 0;
      this.stroke = 0;
      this.isFull = false;
      this.changes = new Float64Array(2 * ROUND);
      this.changed = 0;
      this.last = new Float64Array(values.trigger.foretold_by);
      this.told = 0;
      this.toldFor = -1;
      this.set(scene, 0);
    }

    set(scene, now) {
      const { trigger, fill_at, empty_at } = this.values;
      const isOther = this.scene && this.scene.trigger !== scene.trigger;
      this.scene = scene;
      this.foretells = scene.rhythm !== "fibrillation";
      const lags = { pacing: -this.values.rhythm.ventricle_spike, pressure: scene.opens + trigger.rise_seen };
      const late = lags[scene.trigger] || 0;
      // Each beat is taken for two: the pump waits half as long.
      this.twice = scene.trigger === "ecg-and-t" || scene.trigger === "pacing" && scene.rhythm === "paced-both";
      const share = this.twice ? 0.5 : 1;
      this.fill = (scene.closure + fill_at + scene.fill - late) * share;
      this.empty = this.foretells ? (empty_at + scene.empty - late) * share : scene.empty * share;
      if (isOther) this.forget(now);
    }

    /** What was known ahead of another trigger is known no more; what comes now is looked for anew. */
    forget(now) {
      while (this.count && this.seen[(this.count - 1) % ROUND] > now) this.count -= 1;
      this.stroke = Math.min(this.stroke, this.count);
      while (this.beat && this.rhythm.r[(this.beat - 1) % ROUND] > now) this.beat -= 1;
      this.toldFor = -1;
    }

    take(moment) {
      if (this.count && moment <= this.seen[(this.count - 1) % ROUND]) return;
      this.seen[this.count++ % ROUND] = moment;
    }

    /** Takes what is known up to now; the rise of a pressure is told by whoever sees it. */
    look(until) {
      const { rhythm, scene, values: { trigger } } = this;
      if (scene.trigger === "fixed") {
        const clock = 60 / trigger.fixed_rate;
        let next = this.count ? Math.floor(this.seen[(this.count - 1) % ROUND] / clock + 1.001) : 0;
        while (next * clock < until + 2 * clock) this.take(next++ * clock);
      }
      for (; this.beat < rhythm.known; this.beat++) {
        const at = this.beat % ROUND;
        if (scene.trigger === "ecg" && scene.rhythm !== "compressions") this.take(rhythm.r[at]);
        if (scene.trigger === "ecg-and-t") {
          this.take(rhythm.r[at]);
          this.take(rhythm.tTop(at));
        }
        if (scene.trigger !== "pacing") continue;
        if (rhythm.atrial[at] === rhythm.atrial[at]) this.take(rhythm.atrial[at]);
        if (rhythm.spike[at] === rhythm.spike[at]) this.take(rhythm.spike[at]);
      }
    }

    isKnown(number) { return number < this.count; }
    at(number) { return this.seen[number % ROUND]; }

    /** When a stroke ends, as far as is known. */
    end(number) {
      const { scene: { every }, fill, empty, values: { trigger } } = this;
      let end = this.foretells ? this.at(number) + this.interval(number) + empty : Infinity;
      if (this.isKnown(number + 1)) end = Math.min(end, this.at(number + 1) + Math.max(empty, 0));
      if (every && this.isKnown(number + every)) end = Math.min(end, this.at(number + every) + fill - trigger.gap);
      return end;
    }

    /** The interval that is foretold after a beat that was seen: the middle one of some before. */
    interval(number) {
      const { last, values: { trigger: { foretold_by } } } = this;
      if (number === this.toldFor && number) return this.told;
      const first = Math.max(number + 1 - (this.twice ? 2 : foretold_by), 0);
      const count = number + 1 - first;
      for (let one = 0; one < count; one++) {
        const later = Math.max(first + one, 1);
        last[one] = this.isKnown(later) ? this.at(later) - this.at(later - 1) : 60 / this.scene.rate;
      }
      last.subarray(0, count).sort();
      const middle = count >> 1;
      this.told = count % 2 ? last[middle] : (last[middle - 1] + last[middle]) / 2;
      this.toldFor = number;
      return this.told;
    }

    /** The moment before `until` at which the drive is told to change over; else Infinity. */
    next(until) {
      if (this.isFull) {
        const end = this.end(this.stroke);
        return end < until ? end : Infinity;
      }
      const { scene: { every }, fill, values: { trigger } } = this;
      if (!every) return Infinity;
      for (;;) {
        if (this.stroke % every) this.stroke += every - this.stroke % every;
        if (!this.isKnown(this.stroke)) return Infinity;
        const begin = this.at(this.stroke) + fill;
        if (begin >= until) return Infinity;
        if (this.end(this.stroke) - begin >= trigger.gap) return begin;
        this.stroke += 1;
      }
    }

    turn(moment) {
      this.changes[this.changed++ % (2 * ROUND)] = moment;
      if (this.isFull) this.stroke += 1;
      this.isFull = !this.isFull;
    }

    /** The strokes that are known still; one that goes on ends when it is foretold to. */
    strokes() {
      const found = [];
      const first = Math.max(0, this.changed - 2 * ROUND);
      for (let at = first + first % 2; at < this.changed; at += 2) {
        const end = at + 1 < this.changed ? this.changes[(at + 1) % (2 * ROUND)] : this.end(this.stroke);
        found.push([this.changes[at % (2 * ROUND)], end]);
      }
      return found;
    }
  }

  /** The way of the wave, and a line of fluid with its transducer. It is fed one sample after the other. */
  class Line {
    constructor(values, scene) {
      this.values = values;
      this.true = new Float64Array(SIGNALS);
      this.end = new Float64Array(SIGNALS);
      this.given = new Float64Array(3);
      this.seen = new Float64Array(3);
      this.count = 0;
      this.opens = Infinity;
      this.set(scene);
    }

    set(scene) {
      const { lines, sample } = this.values;
      const usual = lines[scene.at] || lines.tip;
      this.line = scene.frequency ? { ...usual, frequency: scene.frequency, damping: scene.damping } : usual;
      const { travel, late, frequency, damping } = this.line;
      this.travel = Math.round(travel / sample);
      this.late = Math.round(late / sample);
      this.lag = travel + late + (frequency ? damping / (Math.PI * frequency) : 0);
      this.above = -scene.height * this.values.mmhg_per_cm;
      // The bilinear transform of a spring and a mass with friction.
      const speed = 2 * Math.PI * frequency;
      const twice = 2 / sample;
      const whole = twice * twice + 2 * damping * speed * twice + speed * speed;
      this.ahead = speed * speed / whole;
      this.back = [2 * (speed * speed - twice * twice) / whole,
        (twice * twice - 2 * damping * speed * twice + speed * speed) / whole];
    }

    /** What the line shows as one more true pressure comes, at a moment. */
    feed(pressure, time) {
      const { count, travel, late, line } = this;
      const at = count % SIGNALS;
      if (!count) {
        this.true.fill(pressure);
        this.end.fill(pressure);
        this.given.fill(pressure);
        this.seen.fill(pressure);
      }
      this.count += 1;
      this.true[at] = pressure;
      const before = (steps) => (count + SIGNALS - steps) % SIGNALS;
      this.end[at] = travel
        ? (1 + line.returned) * this.true[before(travel)] - line.returned * this.end[before(2 * travel)] : pressure;
      const given = this.flushed(this.end[before(late)], time);
      if (!line.frequency) return given + this.above;
      this.given[2] = this.given[1];
      this.given[1] = this.given[0];
      this.given[0] = given;
      const shown = this.ahead * (this.given[0] + 2 * this.given[1] + this.given[2])
        - this.back[0] * this.seen[0] - this.back[1] * this.seen[1];
      this.seen[1] = this.seen[0];
      this.seen[0] = shown;
      return shown + this.above;
    }

    /** Opens the fast flush for a moment. */
    flush(time) {
      const [opens, shuts] = this.values.flush.at;
      this.opens = time;
      this.shuts = time + shuts - opens;
    }

    flushed(pressure, time) {
      if (time <= this.opens) return pressure;
      const { flush } = this.values;
      let share = 1 - Math.exp(-(time - this.opens) / flush.opens);
      if (time > this.shuts) share *= Math.max(1 - (time - this.shuts) / flush.shuts, 0);
      return pressure + (flush.pressure - pressure) * share;
    }
  }

  const Circulation = { Line, ROUND, Rhythm, systole, Trigger };
  window.alarmtrees = Object.assign(window.alarmtrees || {}, { Circulation });
})();
