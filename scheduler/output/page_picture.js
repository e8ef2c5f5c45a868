// One date of work, drawn; the second part of the page's program.
class Picture {
  constructor(number) {
    this.day = DATA.days[number];
    this.box = document.getElementById("plot" + number);
    this.view = [this.day.from, this.day.to];
    this.box.picture = this;
    this.stepsOf();
    this.tools(document.querySelector('.tools[data-picture="' + number + '"]'));
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

  runs() {
    return this.day.bars.map((bar) => {
      const run = DATA.runs[bar.run];
      return {
        x: this.x(bar.a), w: (bar.b - bar.a) * 1000, y: this.lane[run.press].bar[run.station] + BAR / 2, h: BAR,
        fill: run.fill, hover: facts(run.facts),
      };
    });
  }

  // Neighbours of one order at one setting, so that they are labelled once.
  groups() {
    const last = {}, list = [];
    for (const bar of this.day.bars) {
      const run = DATA.runs[bar.run], lane = run.press + "\n" + run.station, group = last[lane];
      if (group && group.run.order === run.order && group.run.setting === run.setting && this.pixels(bar.a - group.b) < 4) {
        group.b = bar.b;
        group.places.add(run.place);
      } else {
        list.push(last[lane] = {a: bar.a, b: bar.b, run: run, places: new Set([run.place])});
      }
    }
    return list.filter((group) => this.seen(group.a, group.b));
  }

  // Where a label may begin without a due line running through it, if there is room behind the line.
  clear(a, b, text) {
    const need = wide(text, 14.5) + 10;
    for (const due of this.due) {
      const before = this.pixels(due.at - a);
      if (before > -2 && before < need && this.pixels(b - due.at) > need + 4) return due.at + (this.view[1] - this.view[0]) * 3 / this.width;
    }
    return a;
  }

  // What stands on the runs' bars, over everything else.
  labels() {
    const said = {x: [], y: [], text: [], ink: [], size: [], halo: []};
    for (const group of this.groups()) {
      const run = group.run, order = DATA.orders[run.order].id, from = this.clear(Math.max(group.a, this.view[0]), group.b, order);
      const px = this.shown(from, group.b) - 2, places = [...group.places].join(", "), top = this.lane[run.press].bar[run.station];
      const ways = [run.setting, run.setting.split(" · ")[0], run.degrees];
      const lines = [[fitting([order + " · " + places, order], px, 14.5), 14, top + 13], [fitting(ways, px, 13), 13, top + 29]];
      for (const [text, size, y] of lines.filter(([text]) => text)) {
        said.x.push(this.x(from));
        said.y.push(y);
        said.text.push(size === 14 ? "<b>" + esc(text) + "</b>" : esc(text));
        said.ink.push(run.ink);
        said.size.push(size);
        said.halo.push(["-1px -1px", "1px -1px", "-1px 1px", "1px 1px", "0 0"].map((at) => at + " 2px " + run.fill).join(", "));
      }
    }
    return {
      type: "scatter", mode: "text", name: "labels", x: said.x, y: said.y, text: said.text, textposition: "middle right", hoverinfo: "skip",
      textfont: {family: FONT, size: said.size, color: said.ink, shadow: said.halo}, showlegend: false,
    };
  }

  // Under the curve, after each change: what the press is set to now, where there is room to say it.
  settings() {
    const x = [], y = [], text = [], ends = {};
    for (const change of this.day.changes.filter((c) => c.b >= this.view[0])) {
      const at = this.pixels(change.b - this.view[0]);
      const says = fitting([change.warm ? "warm-up " + change.to : change.to], this.width - LEFT - RIGHT - at, 13);
      if (!says || at < (ends[change.press] || 0)) continue;
      ends[change.press] = at + wide(says, 13) + 8;
      x.push(this.x(change.b)); y.push(this.lane[change.press].curve + CURVE - 8); text.push(esc(says));
    }
    return {
      type: "scatter", mode: "text", name: "settings", x: x, y: y, text: text, textposition: "middle right", hoverinfo: "skip",
      textfont: {family: FONT, size: 13, color: "#6b2a20"}, showlegend: false,
    };
  }

  ribbons() {
    return this.day.bars.map((bar) => {
      const run = DATA.runs[bar.run], order = DATA.orders[run.order];
      return {
        x: this.x(bar.a), w: (bar.b - bar.a) * 1000, h: RIBBON, fill: order.colour, pattern: order.pattern, line: 0.5,
        y: this.lane[run.press].bar[run.station] + BAR + 1 + RIBBON / 2, hover: "<b>Order " + esc(order.id) + "</b>",
      };
    });
  }

  changes() {
    const list = [];
    for (const change of this.day.changes) {
      const lane = this.lane[change.press], tall = lane.bar[lane.bar.length - 1] + BAR - lane.bar[0];
      const to = fitting([change.warm ? "warm-up " + change.to : change.to, change.to], this.shown(change.a, change.b), 13);
      list.push({
        x: this.x(change.a), w: (change.b - change.a) * 1000, y: lane.bar[0] + tall / 2, h: tall, fill: SHEET,
        pattern: change.warm ? "/" : "\\", grain: 8, strokes: 0.25, over: "#8b8175", edge: INK, text: to ? "<b>" + esc(to) + "</b>" : "", size: 13,
        hover: "<b>" + esc(change.press) + (change.warm ? ": warm-up " : ": change ") + esc(change.to) + "</b><br>setting: " +
          esc(change.setting) + "<br>time: " + clock(change.a, 1) + " to " + clock(change.b, 1),
      });
    }
    return list;
  }

  loadHover(load) {
    const run = load.run, own = run.facts.filter(([word]) => !["pieces", "people", "time", "prepress", "dwell"].includes(word));
    const steps = load.steps.slice().sort((p, q) => p.a - q.a).map((s) =>
      clock(s.a, 1) + "  " + s.what + " " + (s.b - s.a) + " s" + (s.person < 0 ? "" : ", " + esc(this.who[s.person].id)));
    return facts([own[0], ["loading", String(load.number)], ["piece", load.pieces.join(", ")], ...own.slice(1)]) +
      "<br>" + steps.slice(0, 14).join("<br>");
  }

  loadings() {
    const list = [];
    for (const load of this.loads) {
      if (!this.seen(load.a, load.b)) continue;
      const run = load.run, px = this.shown(load.a, load.b), name = load.pieces[0] || "";
      const more = load.pieces.length > 1 ? " +" + (load.pieces.length - 1) : "";
      const say = fitting([name + more + " · " + run.degrees, name + more, load.short + more], px, 12);
      list.push({
        x: this.x(load.a), w: (load.b - load.a) * 1000, y: this.lane[run.press].bar[run.station] + BAR / 2, h: BAR,
        fill: run.fill, ink: run.ink, size: 12, edge: INK, line: 1.2, text: esc(say) + (say ? "<br> " : ""), hover: this.loadHover(load), load: load.number,
      });
    }
    return list;
  }

  // The lower half of a loading's bar: when the press is closed, and what hands do.
  steps() {
    const list = [], close = this.view[1] - this.view[0] <= CLOSE;
    for (const load of this.loads) {
      if (!this.seen(load.a, load.b)) continue;
      const run = load.run;
      for (const step of load.steps) {
        const shut = step.what === "dwell" || step.what === "prepress";
        if (!step.on || step.b === step.a || !(shut || close)) continue;
        const px = this.shown(step.a, step.b), long = step.what + " " + (step.b - step.a) + " s";
        list.push({
          x: this.x(step.a), w: (step.b - step.a) * 1000, y: this.lane[run.press].bar[run.station] + BAR - 11, h: 18,
          fill: shut ? INK : SHEET, ink: shut ? "#fff" : INK, size: 11, line: 0.5,
          text: esc(fitting([long, step.what], px, 11)),
          hover: "<b>" + esc(step.what) + "</b>, " + (step.b - step.a) + " s<br>" + this.loadHover(load),
        });
      }
    }
    return list;
  }

  busy() {
    return this.day.busy.map((s) => {
      const share = Math.round(100 * s.busy / Math.max(1, s.b - s.a)), lane = this.who[s.person];
      return {
        x: this.x(s.a), w: (s.b - s.a) * 1000, y: lane.bar + HANDS / 2, h: HANDS, fill: "#c9d3d6", size: 13, line: 1, edge: "#4d5d63",
        text: esc(fitting(["hands busy " + share + " % of this stretch", "busy " + share + " %", share + " %"], this.shown(s.a, s.b), 13)),
        hover: "<b>" + esc(lane.id) + "</b>, " + clock(s.a, 1) + " to " + clock(s.b, 1) + "<br>hands busy " + share +
          " % of this stretch<br>orders: " + wrap(s.orders.join(", ")),
      };
    });
  }

  hands() {
    const list = [];
    for (const load of this.loads) {
      const run = load.run, order = DATA.orders[run.order];
      for (const step of load.steps) {
        if (step.person < 0 || step.b === step.a || !this.seen(step.a, step.b)) continue;
        list.push({
          x: this.x(step.a), w: (step.b - step.a) * 1000, y: this.who[step.person].bar + HANDS / 2, h: HANDS, fill: "#c9d3d6",
          size: 12, line: 1, edge: "#4d5d63",
          text: esc(fitting([step.what + " " + order.id, step.what], this.shown(step.a, step.b), 12)),
          hover: "<b>" + esc(this.who[step.person].id) + ": " + esc(step.what) + "</b>, " + (step.b - step.a) + " s from " +
            clock(step.a, 1) + "<br>order " + esc(order.id) + ", piece " + wrap(load.pieces.join(", ")) +
            "<br>press " + esc(run.press) + (step.on ? "" : ", off the press"),
        });
      }
    }
    return list;
  }

  curves() {
    const x = [], y = [], hover = [];
    for (const press of this.day.presses) {
      for (const [at, degrees] of press.curve) {
        x.push(this.x(at)); y.push(this.heatY(this.lane[press.id], degrees));
        hover.push("<b>" + esc(press.id) + "</b>, " + clock(at) + "<br>" + degrees + " " + esc(DATA.unit));
      }
      x.push(null); y.push(null); hover.push("");
    }
    return {
      type: "scatter", mode: "lines", name: "set-point", x: x, y: y, hovertext: hover, hoverinfo: "text", hoverlabel: HOVER,
      line: {color: "#6b2a20", width: 2}, connectgaps: false, showlegend: false,
    };
  }

  dues(late) {
    const x = [], y = [];
    for (const due of this.due.filter((d) => d.late === late)) {
      x.push(this.x(due.at), this.x(due.at), null);
      y.push(TOP + due.row * DUE, this.height, null);
    }
    return {
      type: "scatter", mode: "lines", name: late ? "due, late" : "due", x: x, y: y, hoverinfo: "skip",
      line: late ? {color: LATE, width: 3.5, dash: "8px,5px"} : {color: INK, width: 1.3}, showlegend: false,
    };
  }

  // Marks to point at: a line through the bars would get in their way.
  dueMarks() {
    return {
      type: "scatter", mode: "markers", name: "due marks", x: this.due.map((d) => this.x(d.at)), y: this.due.map((d) => TOP + d.row * DUE + 5),
      hovertext: this.due.map((d) => d.facts.map(wrap).join("<br>")), hoverinfo: "text", hoverlabel: HOVER, showlegend: false,
      marker: {symbol: this.due.map((d) => (d.late ? "x" : "triangle-down")), size: 9, color: this.due.map((d) => (d.late ? LATE : INK))},
    };
  }

  shapes() {
    const first = TOP + this.dueRows * DUE;
    const shapes = this.day.shade.filter((s) => this.seen(s.a, s.b)).map((s) => {
      const press = s.press === undefined ? null : this.lane[s.press], who = s.person === undefined ? null : this.who[s.person];
      const part = press ? [press.bar[0] - 2, press.bottom] : who ? [who.bar, who.bottom] : [first, this.height];
      const px = this.shown(s.a, s.b);
      const word = fitting([s.word], px, 13);
      return {
        type: "rect", layer: "below", x0: this.x(Math.max(s.a, this.view[0])), x1: this.x(Math.min(s.b, this.view[1])), y0: part[0], y1: part[1],
        fillcolor: s.word === "closed" ? "#d8d1c3" : "#ebe5d8", line: {width: press || who ? 0.7 : 0, color: "#b5ab9b"},
        label: {text: word, textposition: press || who ? "middle center" : "bottom center", font: {family: FONT, size: 13, color: FAINT}},
      };
    });
    const rule = (y) => shapes.push({type: "line", layer: "below", xref: "paper", x0: 0, x1: 1, y0: y, y1: y, line: {color: RULE, width: 1}});
    for (const press of this.day.presses) rule(this.lane[press.id].top - GAP / 2 + 2);
    if (this.who.length) rule(this.who[0].top - 6);
    return shapes;
  }

  notes() {
    const note = (more) => Object.assign({showarrow: false, xanchor: "left", yanchor: "top", align: "left", borderpad: 0, font: {family: FONT, size: 15, color: INK}}, more);
    const list = [];
    for (const press of this.day.presses) {
      list.push(note({xref: "paper", x: 0, y: this.lane[press.id].top - 2, text: "<b>" + esc(cut(press.id, this.width / 2, 16)) + "</b>  <span style='color:" + FAINT + "'>" + esc(press.about) + "</span>"}));
    }
    for (const lane of this.who) list.push(note({xref: "paper", x: 0, y: lane.top - 2, text: "<b>" + esc(cut(lane.id, this.width - 80, 16)) + "</b>"}));
    for (const due of this.due) {
      list.push(note({
        x: this.x(due.at), y: TOP + due.row * DUE - 3, xanchor: due.left ? "right" : "left", xshift: (due.left ? -8 : 8) + due.shift, bgcolor: SHEET,
        text: due.late ? "<b>" + esc(due.text) + "</b>" : esc(due.text), font: {family: FONT, size: 14, color: due.late ? LATE : INK},
      }));
    }
    return list;
  }

  axis() {
    const vals = [], texts = [];
    for (const press of this.day.presses) {
      const degrees = press.curve.map((c) => c[1]);
      if (!degrees.length) continue;
      for (const d of new Set([Math.min(...degrees), Math.max(...degrees)])) { vals.push(this.heatY(this.lane[press.id], d)); texts.push(Math.round(d) + "°"); }
    }
    return {
      range: [this.height, 0], fixedrange: true, tickvals: vals, ticktext: texts, showgrid: false, zeroline: false, ticks: "outside", ticklen: 3,
      tickfont: {family: FONT, size: 12, color: FAINT}, automargin: false,
    };
  }

  layout() {
    return {
      width: this.width, height: this.height + 44, margin: {l: LEFT, r: RIGHT, t: 8, b: 36, pad: 0}, barmode: "overlay", hovermode: "closest",
      paper_bgcolor: SHEET, plot_bgcolor: SHEET, font: {family: FONT, size: 14, color: INK}, showlegend: false, hoverdistance: 12,
      dragmode: window.matchMedia("(pointer: coarse)").matches ? false : "zoom",
      modebar: {bgcolor: "rgba(255,253,248,.9)", color: FAINT, activecolor: INK, orientation: "h"},
      xaxis: {
        type: "date", range: [this.x(this.view[0]), this.x(this.view[1])], showgrid: true, gridcolor: "#eee8db", zeroline: false, ticks: "outside",
        tickfont: {family: FONT, size: 13, color: INK}, nticks: Math.max(3, Math.floor(this.width / 95)), hoverformat: "%H:%M:%S",
        tickformatstops: [{dtickrange: [null, 59999], value: "%H:%M:%S"}, {dtickrange: [60000, null], value: "%H:%M"}], tickangle: 0,
      },
      yaxis: this.axis(), shapes: this.shapes(), annotations: this.notes(),
    };
  }

  traces() {
    const near = this.view[1] - this.view[0] < NEAR;
    const list = [
      near ? barTrace("loadings", this.loadings()) : barTrace("runs", this.runs()),
      barTrace("orders", this.ribbons()),
      barTrace("changes", this.changes(), {insidetextanchor: "middle"}),
      barTrace("steps", near ? this.steps() : [], {insidetextanchor: "middle"}),
      near ? barTrace("hands", this.hands()) : barTrace("people", this.busy()),
      this.curves(), this.dues(false), this.dues(true), this.dueMarks(), this.settings(), near ? {type: "scatter", mode: "text", name: "labels", x: [], y: []} : this.labels(),
    ];
    this.box.dataset.view = near ? "loadings" : "runs";
    return list;
  }

  draw() {
    this.measure();
    const done = Plotly.react(this.box, this.traces(), this.layout(), {displaylogo: false, responsive: false, doubleClick: "reset", modeBarButtonsToRemove: ["select2d", "lasso2d"]});
    this.say();
    if (!this.listening) {
      this.listening = true;
      this.box.on("plotly_relayout", (event) => this.moved(event));
    }
    return done;
  }

  moved(event) {
    if (event["xaxis.autorange"]) return this.show(this.day.from, this.day.to);
    if (!Object.keys(event).some((key) => key.startsWith("xaxis.range"))) return;
    const range = this.box.layout.xaxis.range.map((v) => (typeof v === "number" ? v : Date.parse(String(v).replace(" ", "T") + "Z")));
    this.show((range[0] - this.day.midnight) / 1000, (range[1] - this.day.midnight) / 1000);
  }

  show(a, b) {
    const least = 60;
    if (!(b - a >= least)) { const middle = (a + b) / 2; a = middle - least / 2; b = middle + least / 2; }
    this.view = [a, b];
    return this.draw();
  }

  whole() { return this.show(this.day.from, this.day.to); }

  tools(holder) {
    const button = (text, label, act) => {
      const made = document.createElement("button");
      made.type = "button"; made.textContent = text; made.setAttribute("aria-label", label); made.addEventListener("click", act);
      holder.append(made);
    };
    const zoom = (by) => () => {
      const [a, b] = this.view, middle = (a + b) / 2, half = (b - a) / 2 * by;
      this.show(Math.max(this.day.from, middle - half), Math.min(this.day.to, middle + half));
    };
    const move = (by) => () => {
      const [a, b] = this.view, step = Math.max(this.day.from - a, Math.min(this.day.to - b, (b - a) * by));
      this.show(a + step, b + step);
    };
    button("Earlier", "Show earlier", move(-0.5));
    button("Later", "Show later", move(0.5));
    button("Closer", "Look closer", zoom(0.5));
    button("Wider", "See more time", zoom(2));
    button("Whole day", "Show the whole day", () => this.whole());
    this.out = document.createElement("output");
    holder.append(this.out);
  }

  say() {
    const near = this.view[1] - this.view[0] < NEAR;
    this.out.textContent = clock(this.view[0]) + " to " + clock(this.view[1]) + (near ? ", every loading" : ", look closer than 40 minutes for single loadings");
  }
}
