// Hides and the parts on them, as shapes.
const SVG = "http://www.w3.org/2000/svg"

export function make(name, attributes, ...children) {
  const made = document.createElementNS(SVG, name)
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value)
  made.append(...children)
  return made
}

// A hide with its flaws, and the zones that are kept clear for this layout alone.
export function hideView(hide, zones) {
  const [x, y, width, height] = hide.box
  const edge = 0.015 * width
  const view = make("svg", { class: "strap-drawing hide-view", viewBox: `${x - edge} ${y - edge} ${width + 2 * edge} ${height + 2 * edge}`, role: "group", "aria-label": `${hide.name}, ${percent(hide.yield)} used` })
  view.append(make("polygon", { class: "hide", points: hide.outline }))
  for (const flaw of hide.flaws) view.append(make("polygon", { class: `flaw-${flaw.kind}`, fill: "none", points: flaw.outline }))
  zones.forEach((zone, index) => {
    if (zone.hide !== hide.name) return
    view.append(make("polygon", { class: "flaw-once zone-clear", points: zone.outline }))
    const points = zone.outline.split(" ").map((one) => one.split(",").map(Number))
    const [x0, y0] = [0, 1].map((axis) => points.reduce((sum, point) => sum + point[axis], 0) / points.length)
    const number = make("text", { class: "zone-number", x: x0, y: y0 + width / 100, "font-size": width / 40, "text-anchor": "middle" })
    number.textContent = index + 1
    view.append(number)
  })
  return view
}

// A part by itself: outline, what is cut in it, and its name.
export function partShape(part) {
  const node = make("g", { class: "piece", "data-part": part.id })
  node.append(make("path", { class: `part-${part.kind} edge`, d: part.path }))
  for (const one of part.features) node.append(make("path", { class: `feature-${one.kind}`, fill: "none", d: one.path }))
  const [x0, y0, x1, y1] = part.box
  const size = Math.min(0.5 * (y1 - y0), 0.09 * (x1 - x0))
  part.label = make("text", { x: (x0 + x1) / 2, y: -(y0 + y1) / 2 + size * 0.35, "font-size": size, "text-anchor": "middle" })
  part.node = node
  node.append(part.label)
  return node
}

// Put a part's shape where it lies; its name stands upright.
export function lay(part, turns = 0, mark = "") {
  const angle = part.turn + turns * part.step
  part.node.setAttribute("transform", `translate(${part.x} ${-part.y}) rotate(${(-angle * 180) / Math.PI})${part.mirror ? " scale(1 -1)" : ""}`)
  const [x0, y0, x1, y1] = part.box
  const [x, y] = [(x0 + x1) / 2, -(y0 + y1) / 2]
  const flip = Math.cos(angle) < -1e-9 ? 180 : 0
  part.label.setAttribute("transform", `rotate(${flip} ${x} ${y})${part.mirror ? ` translate(0 ${2 * y}) scale(1 -1)` : ""}`)
  part.label.textContent = `${mark}${part.id}${part.locked ? " · locked" : ""}`
}

export function percent(share) { return `${(100 * share).toFixed(1)}%` }

// A part as a small picture.
export function small(part) {
  const [x0, y0, x1, y1] = part.box
  const edge = 0.02 * (x1 - x0)
  const view = make("svg", { class: "strap-drawing", viewBox: `${x0 - edge} ${-y1 - edge} ${x1 - x0 + 2 * edge} ${y1 - y0 + 2 * edge}`, "aria-hidden": "true" })
  view.append(make("path", { class: `part-${part.kind} edge`, d: part.path }))
  return view
}
