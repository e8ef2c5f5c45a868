// The bars: runs and loadings on the presses, ribbons of orders, changes, hands; the third part of the page's program.
class Bars extends Ground {
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
        said.halo.push(halo(run.fill));
      }
    }
    return {
      type: "scatter", mode: "text", name: "labels", x: said.x, y: said.y, text: said.text, textposition: "middle right", hoverinfo: "skip",
      textfont: {family: FONT, size: said.size, color: said.ink, shadow: said.halo}, showlegend: false,
    };
  }

  // One ribbon for neighbours of one order, whatever their setting.
  ribbons() {
    const last = {}, list = [];
    for (const bar of this.day.bars) {
      const run = DATA.runs[bar.run], order = DATA.orders[run.order], lane = run.press + "\n" + run.station, before = last[lane];
      if (before && before.order === order && this.pixels(bar.a - before.b) < 4) {
        before.w += (bar.b - before.b) * 1000;
        before.b = bar.b;
        continue;
      }
      list.push(last[lane] = {
        x: this.x(bar.a), w: (bar.b - bar.a) * 1000, h: RIBBON, fill: order.colour, pattern: order.pattern, line: 0.5, order: order, b: bar.b,
        y: this.lane[run.press].bar[run.station] + BAR + 1 + RIBBON / 2, hover: "<b>Order " + esc(order.id) + "</b>",
      });
    }
    return list;
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
    const kept = own.slice(1).filter(([word]) => word !== "names"), cut = cuts(load.pieces);
    return facts([own[0], ["loading", String(load.number)], ["piece", load.pieces.join(", ")], ...(cut ? [["name", cut]] : []), ...kept]) +
      "<br>" + steps.slice(0, 14).join("<br>");
  }

  loadings() {
    const list = [];
    for (const load of this.loads) {
      if (!this.seen(load.a, load.b)) continue;
      const run = load.run, px = this.shown(load.a, load.b), name = load.pieces[0] || "";
      const more = load.pieces.length > 1 ? " +" + (load.pieces.length - 1) : "";
      const cut = run.personal && load.pieces.length === 1 ? cuts(load.pieces) : "";
      const named = cut ? [name + " · " + cut, load.short + " · " + cut, cut] : [];
      const say = fitting([...named, name + more + " · " + run.degrees, name + more, load.short + more], px, 12);
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
            clock(step.a, 1) + "<br>order " + esc(order.id) + ", piece " + wrap(load.pieces.join(", ")) + (cuts(load.pieces) ? "<br>name: " + wrap(cuts(load.pieces)) : "") +
            "<br>press " + esc(run.press) + (step.on ? "" : ", off the press"),
        });
      }
    }
    return list;
  }
}
