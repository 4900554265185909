// A strip of paper on which the model writes, and how it is drawn: ECG, pressure, gas and balloon, the newest at the
// right, and beside that heart and balloon as they are now. In the inks of the page, like the figures of the articles.
(() => {
  "use strict";
  const { Circulation } = window.alarmtrees;
  const { Loop, Trace, marksOf } = Circulation;

  /** How much is kept, in samples: when the paper is full, its older half is torn off. */
  const PAPER = 8192;
  const LINES = ["pressure", "out", "ventricle", "filled", "gas", "ecg", "dashed"];
  const MARKS = 64;

  /** The model as it runs, and what it has written. */
  class Paper {
    constructor(values, scene, beside) {
      this.values = values;
      this.loop = new Loop(values, scene);
      this.beside = new Loop(values, beside);
      this.every = Math.round(values.sample / values.step);
      LINES.forEach((name) => { this[name] = new Float64Array(PAPER); });
      this.marks = [];
      this.clear();
    }

    clear() {
      this.length = 0;
      this.begin = this.loop.time;
      this.marks.length = 0;
      this.marked = this.loop.beat + 1;
    }

    set(scene, beside) {
      this.loop.set(scene);
      this.beside.set(beside);
    }

    /** Lets the model run for a time, s. */
    run(seconds) {
      const until = this.loop.time + seconds - this.values.step / 2;
      while (this.loop.time < until) this.sample();
      this.mark();
    }

    sample() {
      const { loop, beside, every } = this;
      for (let step = 0; step < every; step++) {
        loop.step();
        beside.step();
      }
      loop.sample();
      beside.sample();
      if (this.length === PAPER) this.tear();
      const at = this.length++;
      this.pressure[at] = loop.seen;
      this.out[at] = loop.outflow;
      this.ventricle[at] = loop.ventricle;
      this.filled[at] = loop.filled;
      this.gas[at] = loop.gas;
      this.ecg[at] = loop.ecg;
      this.dashed[at] = beside.seen;
    }

    tear() {
      const half = PAPER / 2;
      LINES.forEach((name) => this[name].copyWithin(0, half));
      this.length = half;
      this.begin += half * this.values.sample;
    }

    /** Names the points of beats that are over; a hump may reach into the beat behind it. */
    mark() {
      while (this.marked + 2 <= this.loop.beat) {
        const from = this.loop.beatAt(this.marked - 1);
        if (from >= this.begin && isRead(this.values, this.loop.scene)) {
          this.marks.push(...marksOf(this.trace(this.marked - 1, this.marked + 2), 1));
        }
        this.marked += 1;
      }
      while (this.marks.length > MARKS) this.marks.shift();
    }

    trace(first, last) {
      const beats = [];
      for (let number = first; number <= last; number++) beats.push(this.loop.beatAt(number));
      const at = { begin: this.begin + this.values.sample, length: this.length, lag: this.loop.lag };
      return new Trace(this.values, at, this, beats, this.loop.strokes());
    }
  }

  /** Whether the five pressures can be read: not where each beat is another, or the balloon falls elsewhere in it. */
  function isRead(values, { rhythm, trigger }) {
    return !values.unread.includes(rhythm) && !values.unread.includes(trigger);
  }

  const ROWS = { ecg: 0.15, pressure: 0.47, gas: 0.19, balloon: 0.11, axis: 0.08 };
  const INKS = ["ink", "quiet", "line", "hair", "paper", "strip", "link"];
  const LEFT = 34;
  const NOW = 46;
  const ASIDE = { 1: -7, 4: -2, 2: 4 };
  const TOPS = [120, 160, 200, 240, 320];

  /** Draws paper on a canvas. */
  class Drawing {
    constructor(canvas) {
      this.canvas = canvas;
      this.pen = canvas.getContext("2d");
      this.look = "";
      this.shows = { dashed: true, ventricle: false, marks: true };
      this.top = TOPS[0];
      this.inked();
    }

    /** Takes the colours of the page as they are now. */
    inked() {
      const style = window.getComputedStyle(this.canvas);
      this.ink = Object.fromEntries(INKS.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
      this.font = style.fontFamily;
    }

    sized() {
      const ratio = Math.min(window.devicePixelRatio || 1, 2);
      const { clientWidth, clientHeight } = this.canvas;
      this.width = clientWidth;
      this.height = clientHeight;
      const [wide, high] = [Math.round(clientWidth * ratio), Math.round(clientHeight * ratio)];
      if (this.canvas.width !== wide || this.canvas.height !== high) {
        this.canvas.width = wide;
        this.canvas.height = high;
      }
      this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
      this.right = this.width - NOW;
      this.seconds = Math.min(Math.max((this.right - LEFT) / 86, 3), 7);
      let top = 0;
      this.rows = {};
      Object.entries(ROWS).forEach(([name, share]) => {
        this.rows[name] = { top, high: share * this.height };
        top += share * this.height;
      });
    }

    /** All of it. @param {Paper} paper */
    draw(paper) {
      this.sized();
      const { pen } = this;
      this.now = paper.begin + paper.length * paper.values.sample;
      this.scale = (this.right - LEFT) / this.seconds;
      this.first = Math.max(paper.length - Math.ceil(this.seconds / paper.values.sample), 0);
      pen.clearRect(0, 0, this.width, this.height);
      pen.lineJoin = "round";
      pen.lineWidth = 1;
      pen.font = `13px ${this.font}`;
      pen.textBaseline = "middle";
      this.fit(paper);
      this.grid();
      this.beats(paper);
      this.balloon(paper);
      this.line(paper, paper.ecg, "ecg", -0.4, 1.2, 1.5, "ink");
      if (this.shows.dashed) this.line(paper, paper.dashed, "pressure", 0, this.top, 1.25, "quiet", [4, 3]);
      if (this.shows.ventricle) this.line(paper, paper.ventricle, "pressure", 0, this.top, 1, "quiet");
      this.line(paper, paper.pressure, "pressure", 0, this.top, 2, "ink");
      this.line(paper, paper.gas, "gas", this.gasLow, this.gasHigh, 1.5, "ink");
      if (this.shows.marks) this.marks(paper);
      this.present(paper);
      if (this.look) this.veil();
    }

    x(time) { return this.right - (this.now - time) * this.scale; }

    y(row, low, high, value) {
      const { top, high: tall } = this.rows[row];
      const [above, below] = row === "pressure" ? [24, 15] : [5, 5];
      const share = Math.min(Math.max((value - low) / (high - low), -0.1), 1.1);
      return top + tall - below - share * (tall - above - below);
    }

    /** Scales that all of what is seen fits into; they grow at once, and shrink only with new paper. */
    fit(paper) {
      let most = 0;
      for (let at = this.first; at < paper.length; at += 4) most = Math.max(most, paper.pressure[at], paper.dashed[at]);
      this.top = TOPS.find((top) => top >= most - 2) || TOPS[TOPS.length - 1];
      const [low, high] = [-80, 160];
      this.gasLow = low;
      this.gasHigh = high;
    }

    grid() {
      const { pen, ink } = this;
      pen.strokeStyle = ink.hair;
      pen.fillStyle = ink.quiet;
      pen.textAlign = "right";
      const apart = this.top > TOPS[1] ? 80 : 40;
      for (let pressure = 0; pressure <= this.top; pressure += apart) {
        const y = Math.round(this.y("pressure", 0, this.top, pressure)) + 0.5;
        this.stroke(LEFT, y, this.right, y);
        pen.fillText(String(pressure), LEFT - 4, y);
      }
      const isTall = this.rows.gas.high > 64;
      (isTall ? [0, 100] : [0]).forEach((pressure) => {
        const y = Math.round(this.y("gas", this.gasLow, this.gasHigh, pressure)) + 0.5;
        this.stroke(LEFT, y, this.right, y);
        if (isTall) pen.fillText(String(pressure), LEFT - 4, y);
      });
      pen.textAlign = "left";
      const named = { ecg: "ECG", gas: "Gas", balloon: "Full" };
      Object.entries(named).forEach(([row, name]) => {
        const { top, high } = this.rows[row];
        pen.fillText(name, 0, row === "gas" && isTall ? top + 9 : top + high / 2);
      });
      pen.fillText("mmHg", 0, this.rows.pressure.top + 8);
      this.second();
    }

    /** How long a second is: a measure that moves with the paper would be hard to read. */
    second() {
      const { pen, scale } = this;
      const { top, high } = this.rows.axis;
      const y = top + high / 2;
      pen.strokeStyle = this.ink.line;
      this.stroke(LEFT, y, LEFT + scale, y);
      [LEFT, LEFT + scale].forEach((x) => this.stroke(x, y - 4, x, y + 4));
      pen.fillText("1 second", LEFT + scale + 6, y + 1);
    }

    stroke(x, y, toX, toY) {
      this.pen.beginPath();
      this.pen.moveTo(x, y);
      this.pen.lineTo(toX, toY);
      this.pen.stroke();
    }

    line(paper, values, row, low, high, wide, ink, dash = []) {
      const { pen } = this;
      pen.save();
      pen.beginPath();
      pen.rect(LEFT, this.rows[row].top, this.right - LEFT, this.rows[row].high);
      pen.clip();
      pen.beginPath();
      pen.strokeStyle = this.ink[ink];
      pen.lineWidth = wide;
      pen.setLineDash(dash);
      if (dash.length) pen.lineDashOffset = (this.now * this.scale) % (dash[0] + dash[1]);
      const { sample } = paper.values;
      // Always the same samples, or the line would seem to tremble as it moves.
      const skip = 3;
      const first = this.first - (this.first + Math.round(paper.begin / sample)) % skip;
      for (let at = Math.max(first, 0); at < paper.length; at += skip) {
        pen.lineTo(this.x(paper.begin + (at + 1) * sample), this.y(row, low, high, values[at]));
      }
      pen.stroke();
      pen.restore();
    }

    balloon(paper) {
      const { pen, ink } = this;
      const { top, high } = this.rows.balloon;
      const bottom = top + high - 2;
      const tall = (high - 4) / 50;
      const { sample } = paper.values;
      pen.save();
      pen.beginPath();
      pen.rect(LEFT, top, this.right - LEFT, high);
      pen.clip();
      pen.beginPath();
      pen.moveTo(LEFT, bottom);
      const first = this.first - this.first % 4;
      for (let at = first; at < paper.length; at += 4) {
        pen.lineTo(this.x(paper.begin + (at + 1) * sample), bottom - paper.filled[at] * tall);
      }
      pen.lineTo(this.right, bottom);
      pen.fillStyle = ink.strip;
      pen.strokeStyle = ink.line;
      pen.fill();
      pen.stroke();
      pen.restore();
    }

    /** R waves, and where the pump counts a beat. */
    beats(paper) {
      const { pen, ink } = this;
      const { loop } = paper;
      const { top, high } = this.rows.ecg;
      pen.strokeStyle = ink.hair;
      for (let number = Math.max(loop.beat - 12, 0); number <= loop.beat; number++) {
        const x = this.x(loop.beatAt(number));
        if (x > LEFT && x <= this.right) this.stroke(x, top, x, this.rows.axis.top);
      }
      pen.fillStyle = ink.ink;
      loop.marks((time) => {
        const x = this.x(time);
        if (x <= LEFT || x > this.right) return;
        pen.beginPath();
        pen.moveTo(x, top + high - 8);
        pen.lineTo(x - 4, top + high);
        pen.lineTo(x + 4, top + high);
        pen.fill();
      });
    }

    marks(paper) {
      const { pen, ink } = this;
      pen.textAlign = "center";
      pen.font = `bold 13px ${this.font}`;
      paper.marks.forEach(({ time, pressure, sign, low }) => {
        const x = this.x(time);
        if (x < LEFT + 9 || x > this.right) return;
        const y = this.y("pressure", 0, this.top, pressure);
        const away = y + (low ? 15 : -15);
        // The systole and the peak behind it may lie close together.
        const aside = x + (ASIDE[sign] || 0);
        pen.fillStyle = ink.ink;
        pen.beginPath();
        pen.arc(x, y, 2.5, 0, 7);
        pen.fill();
        pen.fillStyle = ink.paper;
        pen.strokeStyle = ink.ink;
        pen.lineWidth = 1.25;
        pen.beginPath();
        pen.arc(aside, away, 9, 0, 7);
        pen.fill();
        if (sign !== "N") pen.stroke();
        pen.fillStyle = ink.ink;
        pen.fillText(sign, aside, away + 0.5);
      });
      pen.font = `13px ${this.font}`;
    }

    /** Heart, valve, aorta and balloon at this moment. */
    present(paper) {
      const { pen, ink, height } = this;
      const { loop } = paper;
      const x = this.width - NOW / 2 + 3;
      const heart = height * 0.13;
      const round = 9 + 7 * Math.min(loop.blood / 150, 1.2);
      pen.strokeStyle = ink.ink;
      pen.lineWidth = 1.5;
      pen.fillStyle = ink.strip;
      pen.beginPath();
      pen.ellipse(x, heart, round, round * 1.15, 0, 0, 7);
      pen.fill();
      pen.stroke();
      const aorta = heart + 24;
      const bottom = this.rows.axis.top;
      const wide = 12 + Math.min(Math.max((loop.descending - 70) / 40, -1), 1) * 1.5;
      pen.strokeStyle = ink.line;
      this.stroke(x - wide, aorta, x - wide, bottom);
      this.stroke(x + wide, aorta, x + wide, bottom);
      // The valve: two leaves that turn out of the way of the blood.
      pen.strokeStyle = ink.ink;
      const turn = loop.opening * 1.2;
      [-1, 1].forEach((side) => {
        const leaf = wide - 1;
        this.stroke(x + side * leaf, aorta, x + side * (leaf - leaf * Math.cos(turn)), aorta + leaf * Math.sin(turn));
      });
      const tall = (bottom - aorta) * 0.6;
      pen.fillStyle = ink.strip;
      pen.beginPath();
      const full = Math.min(loop.filled / loop.balloon.volume, 1.05);
      pen.ellipse(x, aorta + (bottom - aorta) * 0.58, 1.5 + 8 * full, tall / 2, 0, 0, 7);
      pen.fill();
      pen.stroke();
    }

    /** All but one row steps back. */
    veil() {
      const { pen, ink } = this;
      pen.save();
      pen.globalAlpha = 0.78;
      pen.fillStyle = ink.paper;
      const shown = { notch: "pressure", five: "pressure" }[this.look] || this.look;
      Object.entries(this.rows).forEach(([name, { top, high }]) => {
        if (name !== shown && name !== "axis" && shown in this.rows) pen.fillRect(0, top, this.right, high);
      });
      pen.restore();
    }
  }

  Object.assign(Circulation, { Drawing, Paper, isRead });
})();
