// What is drawn besides the bars: curves, due times, shades, names and scales; the fourth part of the page's program.
class Marks extends Bars {
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
      const word = fitting(s.long ? [s.long, s.word] : [s.word], px, 13), out = s.long && (press || who);
      return {
        type: "rect", layer: "below", x0: this.x(Math.max(s.a, this.view[0])), x1: this.x(Math.min(s.b, this.view[1])), y0: part[0], y1: part[1],
        fillcolor: s.word === "closed" || out ? "#d8d1c3" : "#ebe5d8", line: {width: out ? 1.5 : press || who ? 0.7 : 0, color: out ? INK : "#b5ab9b", dash: out ? "3px,3px" : "solid"},
        label: {text: word, textposition: press || who ? "middle center" : "bottom center", font: {family: FONT, size: out ? 14 : 13, color: out ? INK : FAINT, shadow: out ? halo("#d8d1c3") : "none"}},
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
      range: [this.height, 0], fixedrange: true, ticklabeloverflow: "allow", tickvals: vals, ticktext: texts, showgrid: false, zeroline: false, ticks: "outside", ticklen: 3,
      tickfont: {family: FONT, size: 12, color: FAINT}, automargin: false,
    };
  }
}
