// The ground of one date of work: what there is of it and where it lies; the second part of the page's program.
class Ground {
  constructor(number) {
    this.day = DATA.days[number];
    this.box = document.getElementById("plot" + number);
    this.view = [this.day.from, this.day.to];
    this.stepsOf();
  }

  // Each loading's span on the press, its pieces and its steps, unpacked from the day's short writing.
  stepsOf() {
    this.loads = this.day.loads.map(([number, at, start, pieces, flat]) => {
      const run = DATA.runs[at], head = DATA.orders[run.order].id + "-" + run.line + "-";
      const load = {number: number, run: run, a: Infinity, b: -Infinity, pieces: pieces.map((p) => head + p), short: pieces[0] || "", steps: []};
      for (let n = 0; n < flat.length; n += 3) {
        const a = start + flat[n], b = a + flat[n + 1], code = flat[n + 2], on = code % 2;
        load.steps.push({a: a, b: b, what: DATA.whats[(code % 12 - on) / 2], on: on, person: Math.floor(code / 12) - 1});
        if (on) { load.a = Math.min(load.a, a); load.b = Math.max(load.b, b); }
      }
      return load;
    });
  }

  x(s) { return this.day.midnight + s * 1000; }
  pixels(s) { return s * (this.width - LEFT - RIGHT) / (this.view[1] - this.view[0]); }

  // Where everything lies, in pixels from the top: the y axis counts pixels.
  measure() {
    this.width = this.printing || Math.max(280, this.box.clientWidth || 800);
    this.placeDues();
    let y = TOP + this.dueRows * DUE + 6;
    this.lane = {};
    for (const press of this.day.presses) {
      const lane = this.lane[press.id] = {top: y, press: press, bar: []};
      y += LABEL;
      for (let s = 0; s < press.stations; s++) { lane.bar.push(y); y += BAR + RIBBON + 5; }
      lane.curve = y + 2;
      y = lane.bottom = y + CURVE + 4;
      y += GAP;
    }
    this.who = this.day.people.map((person) => {
      const lane = {top: y, bar: y + LABEL, bottom: y + LABEL + HANDS, id: person.id};
      y += LABEL + HANDS + 10;
      return lane;
    });
    this.height = y + 4;
  }

  // Due labels beside their lines, in as many rows as keep them apart.
  placeDues() {
    const ends = [], inner = this.width - LEFT - RIGHT;
    this.due = this.day.due.map((due) => {
      const names = due.orders.length > 4 ? due.orders.slice(0, 3).join(", ") + " and " + (due.orders.length - 3) + " more" : due.orders.join(", ");
      const text = cut("due " + clock(due.at) + "  " + names + (due.late ? "  LATE" : ""), inner - 20, 14.5);
      const at = this.pixels(due.at - this.view[0]), length = wide(text, 14) * 1.06 + 12;
      const left = at + length > inner ? at - length : at;
      if (at < 0 || at > inner) return null;
      let row = ends.findIndex((end) => end <= Math.max(0, left));
      if (row < 0) row = ends.push(0) - 1;
      ends[row] = Math.max(0, left) + length;
      return Object.assign({text: text, row: row, left: left < at, shift: Math.max(0, -left)}, due);
    }).filter((due) => due);
    this.dueRows = ends.length;
  }

  heatY(lane, degrees) {
    const all = this.day.presses.flatMap((p) => p.curve.map((c) => c[1]));
    const lo = Math.min(...all), hi = Math.max(...all, lo + 1);
    return lane.curve + CURVE - 3 - (degrees - lo) / (hi - lo) * (CURVE - 8);
  }

  seen(a, b) { return b >= this.view[0] && a <= this.view[1]; }

  // Labels of a bar begin where it can be seen.
  shown(a, b) { return this.pixels(Math.min(b, this.view[1]) - Math.max(a, this.view[0])); }
}
