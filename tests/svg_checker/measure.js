// Runs in the browser: lays one SVG out and returns what is really on the page, in millimetres.
// arguments: the SVG's text, pixels per millimetre of the (enlarged) page.
const [source, scale] = arguments;
const parsed = new DOMParser().parseFromString(source, "image/svg+xml");
const broken = parsed.querySelector("parsererror");
if (broken) return {error: broken.textContent};
const millimetres = (text) => {
  const match = /^\s*([0-9.]+)\s*(mm|cm|in)\s*$/.exec(text || "");
  return match ? Number(match[1]) * {mm: 1, cm: 10, in: 25.4}[match[2]] : null;
};
const root = document.importNode(parsed.documentElement, true);
const widthMm = millimetres(root.getAttribute("width"));
const heightMm = millimetres(root.getAttribute("height"));
if (widthMm === null || heightMm === null) return {error: "width and height are not in mm, cm or in"};
root.setAttribute("width", widthMm * scale);
root.setAttribute("height", heightMm * scale);
document.documentElement.style.cssText = "margin:0;padding:0";
document.body.style.cssText = "margin:0;padding:0";
document.body.replaceChildren(root);
const frame = root.getBoundingClientRect();
const round = (value) => Math.round(value * 10000) / 10000;
const pen = document.createElement("canvas").getContext("2d");
const INK_PX = 200;

const page = (matrix, x, y) => [
  round((matrix.a * x + matrix.c * y + matrix.e - frame.left) / scale),
  round((matrix.b * x + matrix.d * y + matrix.f - frame.top) / scale),
];
const corners = (matrix, x, y, width, height) => [
  page(matrix, x, y), page(matrix, x + width, y),
  page(matrix, x + width, y + height), page(matrix, x, y + height),
];
const coordinates = (text) => {
  const numbers = (text || "").match(/[-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?/g) || [];
  const pairs = [];
  for (let i = 0; i + 1 < numbers.length; i += 2) pairs.push([+numbers[i], +numbers[i + 1]]);
  return pairs;
};
const opaque = (colour, ...opacities) =>
  colour !== "none" && !/^rgba\(.*, 0\)$/.test(colour) && opacities.every((o) => Number(o) > 0.02);

const groups = [], shapes = [], texts = [];

// One text may hold several pieces (lines, turned characters): a box for each.
const pieces = (element) => {
  if (!element.querySelector("tspan, textPath")) {
    const box = element.getBBox();
    const start = element.getNumberOfChars() ? element.getStartPositionOfChar(0) : {x: 0, y: 0};
    return [{text: element.textContent, box, start}];
  }
  const found = [];
  let last = null;
  for (let i = 0; i < element.getNumberOfChars(); i++) {
    const extent = element.getExtentOfChar(i), start = element.getStartPositionOfChar(i);
    const character = element.textContent.trimStart()[i] || "";
    if (last && Math.abs(last.start.y - start.y) < 1e-3 && start.x >= last.start.x &&
        extent.x - (last.box.x + last.box.width) < extent.height) {
      last.box.width = Math.max(last.box.width, extent.x + extent.width - last.box.x);
      last.text += character;
    } else {
      last = {text: character, start,
              box: {x: extent.x, y: extent.y, width: extent.width, height: extent.height}};
      found.push(last);
    }
  }
  return found;
};

const readText = (element, style, group, order) => {
  const matrix = element.getScreenCTM();
  const size = parseFloat(style.fontSize);
  const zoom = Math.hypot(matrix.b, matrix.a) / scale;
  pen.font = `${style.fontStyle} ${style.fontWeight} ${INK_PX}px ${style.fontFamily}`;
  const capital = pen.measureText("H").actualBoundingBoxAscent / INK_PX;
  for (const piece of pieces(element)) {
    if (!piece.text.trim()) continue;
    const ink = pen.measureText(piece.text.trim());
    const em = size / INK_PX;
    const top = piece.start.y - ink.actualBoundingBoxAscent * em;
    const height = (ink.actualBoundingBoxAscent + ink.actualBoundingBoxDescent) * em;
    const {x, y, width, height: boxHeight} = piece.box;
    texts.push({
      text: piece.text.trim(), group, order,
      box: corners(matrix, x, y, width, boxHeight),
      ink: corners(matrix, x, top, width, height),
      size: round(size * Math.abs(zoom)), capital: round(size * Math.abs(zoom) * capital),
      mirrored: matrix.a * matrix.d - matrix.b * matrix.c < 0,
      visible: opaque(style.fill, style.fillOpacity, style.opacity),
    });
  }
};

const readShape = (element, style, group, order) => {
  const matrix = element.getScreenCTM();
  const shape = {
    group, order, tag: element.tagName,
    fill: style.fill, stroke: style.stroke, dashed: style.strokeDasharray !== "none",
    filled: opaque(style.fill, style.fillOpacity, style.opacity),
    stroked: opaque(style.stroke, style.strokeOpacity, style.opacity) &&
      parseFloat(style.strokeWidth) > 0,
    width: round(parseFloat(style.strokeWidth) * Math.hypot(matrix.a, matrix.b) / scale),
  };
  const number = (name) => element[name].baseVal.value;
  if (element.tagName === "line") {
    shape.points = [page(matrix, number("x1"), number("y1")), page(matrix, number("x2"), number("y2"))];
    shape.filled = false;
  } else if (element.tagName === "polyline" || element.tagName === "polygon") {
    shape.points = coordinates(element.getAttribute("points")).map(([x, y]) => page(matrix, x, y));
    shape.closed = element.tagName === "polygon";
  } else if (element.tagName === "circle" || element.tagName === "ellipse") {
    const rx = element.tagName === "circle" ? number("r") : number("rx");
    const ry = element.tagName === "circle" ? number("r") : number("ry");
    shape.points = [];
    for (let i = 0; i < 32; i++) {
      const angle = i * Math.PI / 16;
      shape.points.push(page(matrix, number("cx") + rx * Math.cos(angle), number("cy") + ry * Math.sin(angle)));
    }
    shape.closed = true;
  } else if (element.tagName === "path") {
    shape.d = element.getAttribute("d") || "";
    const [a, b, c, d] = [matrix.a, matrix.b, matrix.c, matrix.d].map((v) => v / scale);
    shape.matrix = [a, b, c, d, (matrix.e - frame.left) / scale, (matrix.f - frame.top) / scale];
  } else {  // rect, image, use: the box
    const box = element.getBBox();
    shape.points = corners(matrix, box.x, box.y, box.width, box.height);
    shape.closed = true;
    if (element.tagName !== "rect") shape.filled = true;
  }
  shapes.push(shape);
};

const SKIPPED = new Set(["defs", "symbol", "marker", "pattern", "clipPath", "mask", "title", "desc",
                         "style", "metadata", "linearGradient", "radialGradient", "script"]);
const SHAPES = new Set(["line", "polyline", "polygon", "circle", "ellipse", "path", "rect", "image", "use"]);
let order = 0;
const walk = (element, group) => {
  for (const child of element.children) {
    if (SKIPPED.has(child.tagName)) continue;
    const style = getComputedStyle(child);
    if (style.display === "none") continue;
    order += 1;
    let inside = group;
    if (child.classList.length || Object.keys(child.dataset).length) {
      inside = groups.length;
      groups.push({parent: group, classes: [...child.classList], data: {...child.dataset}});
    }
    if (child.tagName === "text") {
      if (style.visibility === "visible") readText(child, style, inside, order);
    } else if (SHAPES.has(child.tagName)) {
      readShape(child, style, inside, order);
    } else {
      walk(child, inside);
    }
  }
};
walk(root, -1);
document.body.replaceChildren();
return {width: widthMm, height: heightMm, groups, shapes, texts};
