// How things are said and measured; the first part of the page's program.
const DATA = JSON.parse(document.getElementById("data").textContent);
const NEAR = 40 * 60; // seconds: a narrower view shows every loading
const CLOSE = 12 * 60; // and a narrower one still, every step of it
const INK = "#2b2723", FAINT = "#5f574e", RULE = "#d3cabb", LATE = "#a8161c", SHEET = "#fffdf8";
const FONT = 'Charter, "Bitstream Charter", Cambria, Georgia, serif';
const LABEL = 22, BAR = 40, RIBBON = 9, CURVE = 46, GAP = 16, HANDS = 24, DUE = 19, TOP = 6;
const LEFT = 46, RIGHT = 14;

// Names as they were typed must not be read as markup by the drawing.
const esc = (text) => String(text).replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");
// The names and numbers that are cut for these pieces.
const cuts = (pieces) => pieces.map((piece) => DATA.names[piece]).filter((cut) => cut).join(", ");
const two = (n) => String(n).padStart(2, "0");
const clock = (s, seconds) => {
  const at = ((Math.round(s) % 86400) + 86400) % 86400;
  const hm = two(Math.floor(at / 3600)) + ":" + two(Math.floor(at / 60) % 60);
  return seconds ? hm + ":" + two(at % 60) : hm;
};
const facts = (pairs) => pairs.map(([word, words]) =>
  word ? esc(word) + ": " + wrap(words) : "<b>" + esc(words) + "</b>").join("<br>");
const wrap = (text) => {
  const lines = [""];
  for (const word of String(text).split(" ")) {
    const last = lines[lines.length - 1];
    if (last && last.length + word.length > 52) lines.push(word);
    else lines[lines.length - 1] = last ? last + " " + word : word;
  }
  return lines.map(esc).join("<br>    ");
};

const pen = document.createElement("canvas").getContext("2d");
const wide = (text, size) => { pen.font = size + "px " + FONT; return pen.measureText(text).width; };
// The first of several ways to say it that fits in so many pixels; the last resort is nothing.
const fitting = (ways, pixels, size) => ways.find((w) => wide(w, size) + 8 <= pixels) || "";

// Cut to so many pixels.
const cut = (text, pixels, size) => {
  while (wide(text, size) > pixels && text.length > 2) text = text.replace(/…$/, "").slice(0, -1) + "…";
  return text;
};

// Words over lines stay readable on the ground they stand on.
const halo = (ground) => ["-1px -1px", "1px -1px", "-1px 1px", "1px 1px", "0 0"].map((at) => at + " 2px " + ground).join(", ");

const HOVER = {align: "left", bgcolor: SHEET, bordercolor: INK, font: {family: FONT, size: 14, color: INK}};

function barTrace(name, list, more) {
  return Object.assign({
    type: "bar", orientation: "h", name: name, showlegend: false, hoverinfo: "text", hoverlabel: HOVER,
    base: list.map((b) => b.x), x: list.map((b) => b.w), y: list.map((b) => b.y), width: list.map((b) => b.h),
    text: list.map((b) => b.text || ""), hovertext: list.map((b) => b.hover || ""), textposition: "inside",
    insidetextanchor: "start", constraintext: "none", textangle: 0, cliponaxis: true,
    insidetextfont: {family: FONT, size: list.map((b) => b.size || 13), color: list.map((b) => b.ink || INK)},
    marker: {
      color: list.map((b) => b.over || b.fill), // where there is a pattern, the colour of its strokes
      line: {color: list.map((b) => b.edge || "rgba(43,39,35,.55)"), width: list.map((b) => b.line === undefined ? 0.7 : b.line)},
      pattern: {shape: list.map((b) => b.pattern || ""), size: list.map((b) => b.grain || 6), solidity: list.map((b) => b.strokes || 0.45), fillmode: "replace"},
    },
  }, more || {});
}
