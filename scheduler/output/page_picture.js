// One date of work, drawn and moved about in; the fifth part of the page's program.
class Picture extends Marks {
  constructor(number) {
    super(number);
    this.box.picture = this;
    this.tools(document.querySelector('.tools[data-picture="' + number + '"]'));
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

  layout() {
    return {
      width: this.width, height: this.height + 44, margin: {l: LEFT, r: RIGHT, t: 8, b: 36, pad: 0}, barmode: "overlay", hovermode: "closest",
      paper_bgcolor: this.printing ? "#fff" : SHEET, plot_bgcolor: this.printing ? "#fff" : SHEET, font: {family: FONT, size: 14, color: INK}, showlegend: false, hoverdistance: 12,
      dragmode: window.matchMedia("(pointer: coarse)").matches ? false : "zoom",
      modebar: {bgcolor: "rgba(255,253,248,.9)", color: FAINT, activecolor: INK, orientation: "h"},
      xaxis: {
        type: "date", ticklabeloverflow: "allow", range: [this.x(this.view[0]), this.x(this.view[1])], showgrid: true, gridcolor: "#eee8db", zeroline: false, ticks: "outside",
        tickfont: {family: FONT, size: 13, color: INK}, nticks: Math.max(3, Math.floor(this.width / 95)), hoverformat: "%H:%M:%S",
        tickformatstops: [{dtickrange: [null, 59999], value: "%H:%M:%S"}, {dtickrange: [60000, null], value: "%H:%M"}], tickangle: 0,
      },
      yaxis: this.axis(), shapes: this.shapes(), annotations: this.notes(),
    };
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
