// The circulation of a weak heart with a balloon in the aorta: the equations of `site_src/circulation`, under the same
// names, for a page on which they are tried. Their values come from there too, with the page; tests hold one to the
// other. Units: mmHg, mL, s. No step makes anything that has to be cleared away later: a phone draws meanwhile.
(() => {
  "use strict";

  // Where each thing stands in what is integrated, and in what follows from it.
  const BLOOD = 0, ARCH_V = 1, DESCENDING_V = 2, LOWER_V = 3, HEAD_V = 4, VEINS_V = 5, ATRIUM_V = 6;
  const OUT = 7, ALONG = 8, DOWN = 9, OPENING = 10, BALLOON = 11, DRIVE = 12, SHIFTED = 13, AMOUNT = 14, ENTRIES = 15;
  const VENTRICLE = 0, ATRIUM = 1, VEINS = 2, ARCH = 3, DESCENDING = 4, LOWER = 5, HEAD = 6, INFLOW = 7;
  const TO_HEAD = 8, FROM_HEAD = 9, FROM_LOWER = 10, GOES_HOME = 11, GAS = 12, FILLING = 13, SHIFTING = 14, STATES = 15;

  const { Line, ROUND, Rhythm, systole, Trigger } = window.alarmtrees.Circulation;

  /** What follows from the values of a balloon. */
  function balloonOf(values) {
    const { atmosphere } = values;
    const { dead, slack, volume, full_at, base, gas, folds } = values.balloon;
    const shift = (dead + slack * volume) * (atmosphere + full_at) / (atmosphere + base) - dead;
    const amount = gas * (dead + shift + folds / 2) * (atmosphere + base) / atmosphere;
    return { ...values.balloon, shift, amount };
  }

  const ARTERIES = ["arch", "descending", "lower", "head"];

  /** The patient and the balloon of a scene. */
  function bodyOf(usual, scene) {
    const { heart, vessels, balloon } = usual;
    const volume = scene.volume || balloon.volume;
    const resistance = vessels.resistance * scene.resistance;
    const elastic = Object.fromEntries(ARTERIES.map((name) => [name, vessels[name] * scene.compliance]));
    return {
      heart: { ...heart, stiffness: heart.stiffness * scene.stiffness },
      vessels: {
        ...vessels, ...elastic, resistance,
        head_resistance: resistance / vessels.head_share, lower_resistance: resistance / (1 - vessels.head_share),
      },
      balloon: balloonOf({ ...usual, balloon: {
        ...balloon, volume, conductance: balloon.conductance * scene.passage, gas: scene.gas, water: scene.water,
        leak: scene.leak * volume / usual.leak_at,
      } }),
    };
  }

  /** One body, its heart beating and its balloon moving as a scene says; the scene can be changed as it runs. */
  class Loop {
    /**
     * @param {object} values of the model, as the page brings them
     * @param {object} scene what differs from the usual, and when the valve opens and shuts without a balloon
     * @param {number} [leaksFrom] when the gas begins to leak, if it does
     */
    constructor(values, scene, leaksFrom = 0) {
      Object.assign(this, { values, leaksFrom, length: values.step, valves: values.valves });
      this.inertance = values.density * values.valves.length / values.valves.area;
      this.loss = values.density / (2 * values.valves.area * values.valves.area);
      this.y = new Float64Array(ENTRIES);
      this.s = new Float64Array(STATES);
      this.trial = new Float64Array(ENTRIES);
      [this.a, this.b, this.c, this.d] = [0, 1, 2, 3].map(() => new Float64Array(ENTRIES));
      Object.assign(this, { steps: 0, beat: 0, scale: 1, drives: false, free: null, hasOpened: false });
      Object.assign(this, { seen: 0, ecg: 0, tensed: 0, tensedAt: -1 });
      this.rhythm = new Rhythm(values, scene);
      this.trigger = new Trigger(values, scene, this.rhythm);
      this.line = new Line(values, scene);
      this.y.set(values.start);
      for (let at = ARCH_V; at <= HEAD_V; at++) this.y[at] *= scene.compliance;
      this.set(scene);
      let most = 0;
      for (let step = 1; step < 1000; step++) most = Math.max(most, this.shape(step / 500));
      this.scale = 1 / most;
      this.renew();
    }

    /** Takes a scene. A beat that has begun goes on as it was. */
    set(scene) {
      const before = this.balloon;
      if (this.scene) this.stretch(scene.compliance / this.scene.compliance);
      this.scene = scene;
      this.rhythm.scene = scene;
      Object.assign(this, bodyOf(this.values, scene));
      this.trigger.set(scene, this.time);
      this.line.set(scene);
      const isPaced = scene.rhythm.startsWith("paced");
      this.drives = this.drives || (scene.every > 0 && (scene.trigger !== "pacing" || isPaced));
      if (before && before.amount !== this.balloon.amount) this.renew();
      this.watch();
    }

    /** Arteries as elastic as said keep their pressure; the veins take or give what blood that moves. */
    stretch(share) {
      const { y } = this;
      for (let at = ARCH_V; share !== 1 && at <= HEAD_V; at++) {
        const filled = at === DESCENDING_V ? y[BALLOON] : 0;
        const moves = (y[at] + filled) * (1 - share);
        y[at] -= moves;
        y[VEINS_V] += moves;
      }
    }

    /** The rise of the pressure is that of the same body without a balloon: one that runs beside it. */
    watch() {
      const { scene } = this;
      if (scene.trigger !== "pressure" || !scene.every) {
        this.free = null;
        return;
      }
      const alone = { ...scene, every: 0, trigger: "ecg" };
      if (this.free) this.free.set(alone);
      else this.free = this.twin(alone);
    }

    /** Another one in the same state, without a balloon. */
    twin(scene) {
      const { values, y, rhythm } = this;
      const other = new Loop(values, scene);
      other.y.set(y);
      other.y[BALLOON] = values.start[BALLOON];
      Object.assign(other, { steps: this.steps, beat: this.beat });
      other.rhythm.take(rhythm);
      return other;
    }

    /** All gas anew. */
    renew() { this.y[AMOUNT] = this.balloon.amount; }

    /** The tension at `x`, the time as a share of the time of the fall. */
    shape(x) {
      const { heart } = this;
      const rise = Math.pow(x / heart.rise_share, heart.rise);
      return rise / (1 + rise) / (1 + Math.pow(x, heart.fall)) * this.scale;
    }

    /** How far the ventricle's muscle is tensed, 0 to 1; an early beat finds it still tensed by the one before. */
    tension(time) {
      if (time === this.tensedAt) return this.tensed;
      const at = time < this.beatAt(this.beat + 1) ? this.beat : this.beat + 1;
      const own = this.activation(time, at);
      this.tensed = at ? Math.max(own, this.activation(time, at - 1)) : own;
      this.tensedAt = time;
      return this.tensed;
    }

    activation(time, number) {
      const { heart, rhythm } = this;
      const at = number % ROUND;
      const since = time - rhythm.r[at] - heart.delay;
      return since > 0 ? this.shape(since / (heart.fall_share * (systole(rhythm.before[at]) - heart.delay))) : 0;
    }

    /** All pressures and flows that follow from what is integrated. */
    state(time, y) {
      const { heart, vessels, s } = this;
      const tension = this.tension(time);
      const active = heart.stiffness * (y[BLOOD] - heart.unstressed) * (1 - heart.flow_loss * y[OUT]);
      const passive = heart.passive * (Math.exp(heart.passive_rate * (y[BLOOD] - heart.unstressed)) - 1);
      s[VENTRICLE] = tension * active + (1 - tension) * passive;
      s[VEINS] = y[VEINS_V] / vessels.veins;
      s[ATRIUM] = y[ATRIUM_V] / vessels.atrium;
      this.lagging(y);
      this.joined(y);
      this.aroundBalloon(time, y);
      s[INFLOW] = Math.max(s[ATRIUM] - s[VENTRICLE], 0) / this.valves.mitral;
      s[GOES_HOME] = (s[VEINS] + vessels.lift - s[ATRIUM]) / vessels.return_resistance;
    }

    lagging(y) {
      const { vessels, s } = this;
      const lag = vessels.viscous / vessels.lower;
      const outlet = vessels.lower_resistance;
      s[LOWER] = (y[LOWER_V] / vessels.lower + lag * (y[DOWN] + s[VEINS] / outlet)) / (1 + lag / outlet);
      s[FROM_LOWER] = (s[LOWER] - s[VEINS]) / outlet;
    }

    /** Arch and head, between which blood flows by the branch. */
    joined(y) {
      const { vessels, s } = this;
      const archLag = vessels.viscous / vessels.arch;
      const headLag = vessels.viscous / vessels.head;
      const branch = 1 / vessels.branch;
      const small = 1 / vessels.head_resistance;
      const archSide = y[ARCH_V] / vessels.arch + archLag * (y[OUT] - y[ALONG]);
      const headSide = y[HEAD_V] / vessels.head + headLag * small * s[VEINS];
      const archOwn = 1 + archLag * branch;
      const headOwn = 1 + headLag * (branch + small);
      const determinant = archOwn * headOwn - archLag * headLag * branch * branch;
      s[ARCH] = (archSide * headOwn + archLag * branch * headSide) / determinant;
      s[HEAD] = (headSide * archOwn + headLag * branch * archSide) / determinant;
      s[TO_HEAD] = (s[ARCH] - s[HEAD]) * branch;
      s[FROM_HEAD] = (s[HEAD] - s[VEINS]) * small;
    }

    /** Pressures of descending aorta and gas, and how fast the balloon fills and the drive moves. */
    aroundBalloon(time, y) {
      const { vessels, balloon, s } = this;
      const lag = vessels.viscous / vessels.descending;
      const atRest = (y[DESCENDING_V] + y[BALLOON]) / vessels.descending + lag * (y[ALONG] - y[DOWN]);
      s[DESCENDING] = atRest;
      s[GAS] = 0;
      s[FILLING] = 0;
      s[SHIFTING] = 0;
      if (!this.drives) return;
      const filled = y[BALLOON];
      const room = balloon.dead + balloon.shift - y[SHIFTED];
      const inside = atRest + this.wall(filled);
      const open = balloon.conductance * (1 + balloon.water * Math.sin(2 * Math.PI * balloon.swing * time));
      const excess = this.linePressure(y[AMOUNT], room, filled, inside) - inside;
      s[FILLING] = open * excess / (1 + open * lag * (1 + filled / room));
      s[DESCENDING] = atRest + lag * s[FILLING];
      s[GAS] = this.linePressure(y[AMOUNT], room, filled, inside + lag * s[FILLING]);
      const difference = y[DRIVE] - s[GAS];
      const left = difference > 0 ? balloon.shift - y[SHIFTED] : y[SHIFTED];
      s[SHIFTING] = balloon.force * difference * Math.min(Math.max(left / balloon.stop, 0), 1);
    }

    /** By how much the gas in the balloon is above the blood around it. */
    wall(filled) {
      const { balloon } = this;
      const over = filled - balloon.slack * balloon.volume;
      const under = balloon.folds - filled;
      if (over > 0) return balloon.stretch * over * over;
      return under > 0 ? -balloon.fold * under * under : 0;
    }

    linePressure(amount, room, filled, inside) {
      const { atmosphere } = this.values;
      return (atmosphere * amount - (atmosphere + inside) * filled) / room - atmosphere;
    }

    /** How fast each entry of what is integrated changes; `told` is the pressure that the drive is to reach. */
    rates(time, y, told, into) {
      this.state(time, y);
      const { vessels, valves, balloon, s } = this;
      const difference = s[VENTRICLE] - s[ARCH];
      const share = Math.max(y[OPENING], this.values.almost_shut);
      into[BLOOD] = s[INFLOW] - y[OUT];
      into[ARCH_V] = y[OUT] - y[ALONG] - s[TO_HEAD];
      into[DESCENDING_V] = y[ALONG] - y[DOWN];
      into[LOWER_V] = y[DOWN] - s[FROM_LOWER];
      into[HEAD_V] = s[TO_HEAD] - s[FROM_HEAD];
      into[VEINS_V] = s[FROM_HEAD] + s[FROM_LOWER] - s[GOES_HOME];
      into[ATRIUM_V] = s[GOES_HOME] - s[INFLOW];
      into[OUT] = (share * difference - this.loss * y[OUT] * Math.abs(y[OUT]) / share) / this.inertance;
      into[ALONG] = (s[ARCH] - s[DESCENDING] - vessels.between * y[ALONG]) / vessels.arch_mass;
      into[DOWN] = (s[DESCENDING] - s[LOWER] - vessels.between * y[DOWN]) / vessels.descending_mass;
      into[OPENING] = (difference > 0 ? 1 - y[OPENING] : y[OPENING]) * valves.rate * difference;
      into[BALLOON] = s[FILLING];
      into[DRIVE] = (told - y[DRIVE]) / balloon.switch;
      into[SHIFTED] = s[SHIFTING];
      into[AMOUNT] = time > this.leaksFrom ? -balloon.leak * s[GAS] : 0;
    }

    /** One step of Runge and Kutta. */
    oneStep(time, step) {
      const { y, trial, a, b, c, d, balloon } = this;
      const told = this.trigger.isFull ? balloon.push : balloon.pull;
      const half = step / 2;
      this.rates(time, y, told, a);
      for (let at = 0; at < ENTRIES; at++) trial[at] = y[at] + half * a[at];
      this.rates(time + half, trial, told, b);
      for (let at = 0; at < ENTRIES; at++) trial[at] = y[at] + half * b[at];
      this.rates(time + half, trial, told, c);
      for (let at = 0; at < ENTRIES; at++) trial[at] = y[at] + step * c[at];
      this.rates(time + step, trial, told, d);
      for (let at = 0; at < ENTRIES; at++) y[at] += step / 6 * (a[at] + 2 * (b[at] + c[at]) + d[at]);
    }

    /** An even step; where the drive is told to change over it is cut in two, for nothing may jump within one. */
    step() {
      const { trigger } = this;
      let time = this.time;
      const until = time + this.length;
      this.look(until);
      for (let change = trigger.next(until); change < until; change = trigger.next(until)) {
        const at = Math.max(change, time);
        if (at > time) this.oneStep(time, at - time);
        trigger.turn(at);
        time = at;
      }
      this.oneStep(time, until - time);
      this.steps += 1;
      if (this.beatAt(this.beat + 1) <= this.time) {
        this.beat += 1;
        this.hasOpened = false;
      }
      if (this.free) this.watched();
    }

    watched() {
      this.free.step();
      if (this.hasOpened || this.free.y[OUT] <= this.values.ejects) return;
      this.hasOpened = true;
      this.trigger.take(this.time + this.values.trigger.rise_seen);
    }

    get time() { return this.steps * this.length; }

    /** Brings what is known up to a moment. */
    look(until) {
      while (this.rhythm.known < this.beat + 4 || this.beatAt(this.rhythm.known - 2) <= until) this.rhythm.know();
      this.trigger.look(until);
    }

    beatAt(number) { return this.rhythm.r[number % ROUND]; }

    /** What is seen now: once for each sample, for the line goes on with it. */
    sample() {
      const { time } = this;
      this.state(time, this.y);
      this.seen = this.line.feed(this.s[ARCH], time);
      this.ecg = this.rhythm.ecg(time, this.beat);
    }

    strokes() { return this.trigger.strokes(); }

    /** Tells the moments that the pump took as beats. */
    marks(tell) {
      const { trigger } = this;
      for (let number = Math.max(0, trigger.count - ROUND); number < trigger.count; number++) {
        if (trigger.at(number) <= this.time) tell(trigger.at(number));
      }
    }

    get lag() { return this.line.lag; }
    get blood() { return this.y[BLOOD]; }
    get outflow() { return this.y[OUT]; }
    get opening() { return this.y[OPENING]; }
    get filled() { return this.y[BALLOON]; }
    get ventricle() { return this.s[VENTRICLE]; }
    get arch() { return this.s[ARCH]; }
    get descending() { return this.s[DESCENDING]; }
    get gasLeft() { return this.y[AMOUNT] / this.balloon.amount; }
    get gas() { return this.s[GAS]; }
  }

  Object.assign(window.alarmtrees.Circulation, { Loop });
})();
