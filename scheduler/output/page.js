// All dates drawn, and drawn anew for another width or for paper; the last part of the page's program.
const pictures = DATA.days.map((_, n) => new Picture(n));
const drawFrom = (n) => {
  if (n >= pictures.length) { document.documentElement.dataset.ready = "yes"; return; }
  Promise.resolve(pictures[n].draw()).then(() => setTimeout(() => drawFrom(n + 1), 0));
};
drawFrom(0);

let waiting = 0, last = window.innerWidth;
window.addEventListener("resize", () => {
  if (window.innerWidth === last) return;
  last = window.innerWidth;
  clearTimeout(waiting);
  waiting = setTimeout(() => pictures.forEach((p) => p.draw()), 120);
});

// On paper: the width of a landscape A4 sheet, the whole day, one sheet high at most.
const PAPER = {width: 1020, height: 630, heading: 100};
window.addEventListener("beforeprint", () => pictures.forEach((p, n) => {
  p.kept = p.view; p.view = [p.day.from, p.day.to]; p.printing = PAPER.width; p.draw();
  p.box.style.zoom = Math.min(1, (PAPER.height - (n ? 0 : PAPER.heading)) / (p.height + 44));
}));
window.addEventListener("afterprint", () => pictures.forEach((p) => {
  p.view = p.kept; p.printing = 0; p.box.style.zoom = ""; p.draw();
}));
