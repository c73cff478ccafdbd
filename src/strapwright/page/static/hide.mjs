// A hide drawn by hand: its edge, flaws, back and places of another thickness; the program says what is wrong with it.
import { Canvas } from "./hide_canvas.mjs"
import { make } from "./hide_picture.mjs"
import { cornerTable, shapeList, stationTable, unsureList } from "./hide_tables.mjs"
import { KEYS, NEAR, ROUND, exact, example, inches, nearest, read, shown as length, units } from "./lengths.mjs"
import { whenOn } from "./page_load.mjs"
import { SILENT, Latest, listen, post, say, send } from "./requests.mjs"

const REST = 60
const LARGEST = 8e6

const box = document.getElementById("hide")
const form = document.getElementById("hide-form")
const svg = box.querySelector("svg")
const now = document.getElementById("hide-now")
const state = JSON.parse(box.dataset.state)
let { digest, file } = state
let over = false
let chosen = null // { shape: list of corners or a round flaw, corner: number or null }
let action = null // what a tap does now
let mistakes = {}
let figures = null
let theirs = null
let shown = null // an unsure stretch
let touched = false
let saved = ""
const undone = []
const done = []

// ---- what is drawn ----

const shapes = () => [...state.flaws, ...state.zones]
const edge = { get points() { return state.points } }
const own = () => state.way === "points"
const editable = () => [...(own() ? [edge] : []), ...shapes()]
const cornersOf = (shape) => shape.points ?? [shape.at, [shape.at[0] + shape.size / 2, shape.at[1]]]
const nameOf = (shape) => shape === edge ? "the edge" : state.zones.includes(shape) ? `place ${state.zones.indexOf(shape) + 1}` : `${shape.kind} ${state.flaws.indexOf(shape) + 1}`
const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1])
const across = (value) => inches ? nearest(value, NEAR) : Math.round(value * 100) / 100

function inside([x, y], points) {
  let odd = false
  points.forEach(([x1, y1], index) => {
    const [x2, y2] = points[(index + 1) % points.length]
    if (y1 > y !== y2 > y && x < x1 + ((y - y1) / (y2 - y1)) * (x2 - x1)) odd = !odd
  })
  return odd
}

// The corner that is meant: one of the chosen shape before others.
function cornerAt(point, reach) {
  let best = null
  for (const shape of new Set([...(own() ? [edge] : []), ...(chosen ? [chosen.shape] : [])])) {
    cornersOf(shape).forEach((corner, number) => {
      const far = apart(point, corner) * (shape === chosen?.shape ? 0.6 : 1)
      if (far < reach && (!best || far < best.far)) best = { shape, corner: number, far }
    })
  }
  return best
}

function betweenAt(point, reach) {
  const shape = chosen?.shape
  if (!shape?.points) return null
  for (const [number, middle] of middles(shape.points)) if (apart(point, middle) < reach * 0.8) return { shape, number }
  return null
}

const middles = (points) => points.map((one, number) => {
  const next = points[(number + 1) % points.length]
  return [number, [(one[0] + next[0]) / 2, (one[1] + next[1]) / 2], apart(one, next)]
}).filter(([, , long]) => long > 50 * canvas.pixel)

const shapeAt = (point) => shapes().findLast((one) => one.points ? inside(point, one.points) : apart(point, one.at) < one.size / 2)

// ---- the drawing ----

const canvas = new Canvas(svg, {
  drawn: () => draw(),
  grab(point, reach) {
    if (action) return null
    const found = cornerAt(point, reach)
    if (found) return dragged(found.shape, found.corner, point)
    const between = betweenAt(point, reach)
    if (between) return dragged(between.shape, null, point, between.number)
    const shape = shapeAt(point)
    return shape && shape === chosen?.shape ? dragged(shape, null, point) : null
  },
  tap(point, reach) {
    if (action) return action.tap(point, reach)
    const found = cornerAt(point, reach)
    if (found) return choose(found.shape, found.corner)
    const between = betweenAt(point, reach)
    if (between) { step(); insert(between.shape, between.number); return }
    const shape = shapeAt(point)
    if (shape) return choose(shape, null)
    if (own() && inside(point, state.points)) return choose(edge, null)
    choose(null)
  },
})

// A corner, a corner that a drag puts in, or a whole shape, as it is dragged.
function dragged(shape, number, from, between = null) {
  let begun = false
  let last = from
  const start = () => {
    begun = true
    step()
    if (between !== null) { insert(shape, between, false); number = between + 1 }
    chosen = { shape, corner: number }
  }
  return {
    move(point) {
      if (!begun) start()
      if (number !== null) put(shape, number, canvas.rounded(point))
      else {
        const [x, y] = canvas.rounded([point[0] - last[0], point[1] - last[1]])
        if (!x && !y) return
        last = [last[0] + x, last[1] + y]
        shift(shape, x, y)
      }
      changed()
    },
    end() { if (begun) changed() },
    cancel() { if (begun) back(done, undone) },
  }
}

function put(shape, number, point) {
  if (shape.points) shape.points[number] = point
  else if (number) shape.size = Math.max(NEAR, across(2 * apart(shape.at, point)))
  else shape.at = point
}

function shift(shape, x, y) {
  if (shape.points) shape.points = shape.points.map((one) => [exact(one[0] + x), exact(one[1] + y)])
  else shape.at = [exact(shape.at[0] + x), exact(shape.at[1] + y)]
}

function insert(shape, number, told = true) {
  const points = shape.points
  const next = points[(number + 1) % points.length] ?? [0, 0]
  const here = points[number] ?? next
  points.splice(number + 1, 0, [(here[0] + next[0]) / 2, (here[1] + next[1]) / 2].map((one) => nearest(one, NEAR)))
  if (told) { choose(shape, number + 1); changed() }
}

function remove(shape, number) {
  step()
  if (!shape.points || shape.points.length <= 3) {
    if (shape === edge) { state.points = []; act("edge") }
    for (const list of [state.flaws, state.zones]) if (list.includes(shape)) list.splice(list.indexOf(shape), 1)
    choose(null)
  } else {
    shape.points.splice(number, 1)
    choose(shape, Math.min(number, shape.points.length - 1))
  }
  changed()
}

// Whether corners lie far enough apart to be seen one by one, as on a hide of hundreds they do not from afar.
const roomy = (points) => points.reduce((sum, one, number) => sum + apart(one, points[(number + 1) % points.length]), 0) > 11 * canvas.pixel * points.length

const path = (points, closed = true) => points.length ? `M${points.map((one) => one.join(" ")).join("L")}${closed ? "Z" : ""}` : ""

function draw() {
  const outline = own() ? state.points : figures?.outline ?? []
  const layer = []
  const look = (shape, name, key) => `${name}${chosen?.shape === shape ? " chosen" : ""}${mistakes[key] ? " bad" : ""}`
  const picture = document.getElementById("picture-shown").checked ? state.picture : null
  svg.classList.toggle("pictured", Boolean(picture?.size))
  if (picture?.size) {
    const [width, height] = picture.size.map((one) => one * picture.mm_per_pixel)
    layer.push(make("image", { href: `/leather/picture/${picture.digest}`, width, height, transform: `translate(${picture.x},${picture.y + height}) scale(1,-1)` }))
  }
  if (outline.length) layer.push(make("path", { class: look(edge, "hide", "points"), d: path(outline) }))
  state.zones.forEach((zone, index) => layer.push(make("path", { class: look(zone, "zone", `zone.${index}`), d: path(zone.points) })))
  if (!own()) for (const one of figures?.drawn ?? []) layer.push(make("path", { class: `flaw-${one.kind}`, d: path(one.points) }))
  state.flaws.forEach((flaw, index) => {
    const name = look(flaw, `flaw-${flaw.kind}`, `flaw.${index}`)
    layer.push(flaw.points ? make("path", { class: name, d: path(flaw.points) }) : make("circle", { class: name, cx: flaw.at[0], cy: flaw.at[1], r: flaw.size / 2 }))
  })
  for (const one of state.unsure) layer.push(make("path", { class: one === shown ? "unsure chosen" : "unsure", d: path(one.points, false) }))
  if (figures) {
    if (figures.sure.length) layer.push(make("path", { class: "sure", d: path(figures.sure) }))
    if (figures.strap.length) layer.push(make("path", { class: "longest", d: path(figures.strap) }))
    layer.push(make("path", { class: "back", d: path(figures.back, false) }))
    if (figures.cut.length) layer.push(make("path", { class: "trued", d: path(figures.cut, false) }))
  }
  if (theirs) layer.push(make("path", { class: "theirs", d: path(theirs) }))
  if (action?.points) {
    layer.push(make("path", { class: "open", d: path(action.points, false) }))
    for (const [x, y] of action.points) layer.push(make("circle", { class: "corner now", cx: x, cy: y, r: 5 * canvas.pixel }))
  } else {
    const ends = (shape, size) => cornersOf(shape).forEach(([x, y], number) => {
      const meant = chosen?.shape === shape && chosen.corner === number
      layer.push(make("circle", { class: meant ? "corner now" : "corner", cx: x, cy: y, r: (meant ? 8 : size) * canvas.pixel }))
    })
    if (own() && chosen?.shape !== edge && roomy(state.points)) ends(edge, 3.5)
    if (chosen) {
      if (chosen.shape.points) for (const [, [x, y]] of middles(chosen.shape.points)) layer.push(make("circle", { class: "between", cx: x, cy: y, r: 4 * canvas.pixel }))
      ends(chosen.shape, roomy(cornersOf(chosen.shape)) ? 6 : 2.5)
    }
  }
  canvas.layer.replaceChildren(...layer)
  box.querySelector("[data-scale]").textContent = `A square is ${length(canvas.squares[0])} ${units}; taps go to the nearest ${length(canvas.snap)} ${units}.`
}

function choose(shape, corner = null) {
  chosen = shape && { shape, corner: shape.points || corner === null ? corner : Math.min(corner, 1) }
  show()
}

function show() {
  const corner = chosen && chosen.corner !== null ? cornersOf(chosen.shape)[chosen.corner] : null
  const row = box.querySelector(".hide-corner")
  row.hidden = !corner
  if (corner) {
    const many = chosen.shape.points
    row.querySelector("[data-corner]").textContent = many ? `Corner ${chosen.corner + 1} of ${nameOf(chosen.shape)}` : chosen.corner ? `Rim of ${nameOf(chosen.shape)}` : `Middle of ${nameOf(chosen.shape)}`
    for (const [id, value] of [["corner-x", corner[0]], ["corner-y", corner[1]]]) {
      const field = document.getElementById(id)
      if (document.activeElement === field) continue
      field.value = length(value)
      field.classList.remove("wrong-value")
    }
    row.querySelector('[data-do="after"]').hidden = !many
  }
  if (action) now.textContent = action.words
  else if (corner) now.textContent = `${box.querySelector("[data-corner]").textContent}: x ${length(corner[0])}, y ${length(corner[1])} ${units}.`
  else if (chosen) now.textContent = `${nameOf(chosen.shape)[0].toUpperCase()}${nameOf(chosen.shape).slice(1)} is chosen. Drag a corner, or a dot between two to put one in.`
  else now.textContent = own() && state.points.length ? "Drag a corner to move it. Tap the leather or a flaw to choose it." : ""
  svg.classList.toggle("acting", Boolean(action))
  box.querySelector("span.acting").hidden = !action
  box.querySelector('[data-do="done"]').hidden = !action?.finish
  document.getElementById("step-back").disabled = !done.length
  document.getElementById("step-again").disabled = !undone.length
  tables()
  draw()
}

// ---- fields and tables beside the drawing ----

const edgeTable = cornerTable(box.querySelector("[data-corners]"), "Edge", { step: () => { action = null; step() }, changed, choose: (number) => choose(edge, number) })
const stations = stationTable(document.getElementById("stations"), { step, changed })
const common = { step, changed, choose: (shape, corner) => choose(shape, corner), remove: (shape) => { step(); for (const list of [state.flaws, state.zones]) if (list.includes(shape)) list.splice(list.indexOf(shape), 1); choose(null); changed() } }
const flawList = shapeList(document.getElementById("flaws"), "flaw", common)
const zoneList = shapeList(document.getElementById("zones"), "zone", common)

const unsures = unsureList(document.getElementById("unsure"), {
  showIt(one) {
    shown = one
    const [x, y] = one.points[Math.floor(one.points.length / 2)]
    canvas.view = { x, y, width: 400 }
    canvas.show()
  },
  sure(one) { step(); state.unsure.splice(state.unsure.indexOf(one), 1); changed() },
})

function tables() {
  unsures(state.unsure)
  box.querySelector(".hide-lines").hidden = !figures?.sure.length && !state.unsure.length
  for (const part of box.querySelectorAll("[data-way]")) part.hidden = part.dataset.way !== state.way
  for (const radio of form.elements.way) radio.checked = radio.value === state.way
  const kept = box.querySelector("[data-kept]")
  kept.hidden = !state.kept
  kept.querySelector("span").textContent = state.kept
  box.querySelector('[data-do="edge"]').textContent = state.points.length ? "Draw it anew" : "Draw it"
  edgeTable(state.points)
  stations(state.stations)
  flawList(state.flaws, mistakes, chosen?.shape)
  zoneList(state.zones, mistakes, chosen?.shape)
  document.getElementById("picture-set").hidden = !state.picture
  const back = form.elements.backbone.value
  for (const field of form.querySelectorAll("[data-when]")) field.hidden = field.dataset.when.split("=")[1] !== back
}

// ---- steps that can be taken back before anything is saved ----

const kept = () => JSON.stringify({ way: state.way, kept: state.kept, points: state.points, stations: state.stations, flaws: state.flaws, zones: state.zones, unsure: state.unsure, back: state.back, picture: state.picture, backbone: form.elements.backbone.value })
function step() { done.push(kept()); undone.length = 0; if (done.length > 200) done.shift() }
function back(from, to) {
  if (!from.length) return
  to.push(kept())
  const { backbone, ...rest } = JSON.parse(from.pop())
  Object.assign(state, rest)
  form.elements.backbone.value = backbone
  chosen = null
  changed()
}

function changed() {
  touched = true
  document.getElementById("hide-saved").textContent = ""
  show()
  clearTimeout(changed.resting)
  changed.resting = setTimeout(() => checks.ask(true), REST)
}

// ---- what a tap does while something is drawn ----

const corners = (what, words, made) => ({
  words,
  points: [],
  tap(point, reach) {
    if (this.points.length > 2 && apart(point, this.points[0]) < reach) return this.finish()
    this.points.push(canvas.rounded(point))
    this.words = this.points.length < 3 ? `${this.points.length} of ${what}.` : `${this.points.length} corners. Tap the first one again, or Done, when you are round.`
    show()
  },
  finish() {
    if (this.points.length < 3) return say(`Found ${this.points.length} corners, expected at least 3.`)
    step()
    action = null
    made(this.points)
    changed()
  },
})

const two = (words, made) => ({
  words,
  points: [],
  tap(point) {
    this.points.push(canvas.rounded(point))
    if (this.points.length === 2) made(this.points)
    else this.words = "Now the other one."
    show()
  },
})

let apartPoints = null
const ACTIONS = {
  edge: () => corners("its corners", "Tap the corners of the leather in one round, or type them below.", (points) => { state.way = "points"; state.points = points; chosen = { shape: edge, corner: null } }),
  flaw: () => corners("its corners", "Tap the corners round the flaw.", (points) => { state.flaws.push({ origin: null, kind: "hole", points }); chosen = { shape: state.flaws.at(-1), corner: null } }),
  zone: () => corners("its corners", "Tap the corners round the place.", (points) => { state.zones.push({ origin: null, thickness: "", points }); chosen = { shape: state.zones.at(-1), corner: null } }),
  round: () => ({
    words: "Tap the middle of the flaw.",
    tap(point) {
      step()
      state.flaws.push({ origin: null, kind: "hole", at: canvas.rounded(point), size: ROUND })
      action = null
      chosen = { shape: state.flaws.at(-1), corner: 1 }
      changed()
    },
  }),
  side: () => ({
    words: "Tap near the edge of the leather that is the back.",
    tap(point) {
      const all = own() ? state.points : figures?.outline ?? []
      if (all.length < 3) return say("Draw the edge first.")
      const [xs, ys] = [0, 1].map((axis) => all.map((one) => one[axis]))
      const far = { bottom: point[1] - Math.min(...ys), top: Math.max(...ys) - point[1], left: point[0] - Math.min(...xs), right: Math.max(...xs) - point[0] }
      step()
      form.elements.backbone.value = Object.keys(far).reduce((best, one) => far[one] < far[best] ? one : best)
      action = null
      changed()
    },
  }),
  line: () => two("Tap a point along the back.", (points) => { step(); state.back = points; form.elements.backbone.value = "line"; action = null; changed() }),
  scale: () => two("Tap one of two points in the picture that you know the distance of.", (points) => { apartPoints = points; action = null; show(); now.textContent = "Type how far apart the two are, then set the scale."; document.getElementById("apart").focus() }),
}

function act(what) {
  action = ACTIONS[what]()
  chosen = null
  show()
  svg.scrollIntoView({ block: "nearest" })
}

const DOES = {
  closer: () => canvas.zoom(1 / 1.5),
  further: () => canvas.zoom(1.5),
  all: fit,
  done: () => action?.finish?.(),
  cancel: () => { action = null; show() },
  after: () => { step(); insert(chosen.shape, chosen.corner) },
  remove: () => remove(chosen.shape, chosen.corner),
  save,
  corners() {
    if (!figures) return say("Mend what is wrong first; then it can be turned into corners.")
    step()
    if (state.way === "kept") for (const one of figures.drawn) state.flaws.push({ origin: null, kind: one.kind, points: one.points })
    Object.assign(state, { way: "points", points: figures.outline, kept: "" })
    changed()
  },
  "set-scale"() {
    const [field, picture] = [document.getElementById("apart"), state.picture]
    if (!apartPoints) return say("Tap the two points first.")
    const wanted = read(field.value)
    if (!(wanted > 0)) return say(`Found "${field.value}", expected a distance such as ${example} ${units}.`)
    const [first, second] = apartPoints
    if (!apart(first, second)) return say("The two points are the same; tap them again.")
    step()
    const by = wanted / apart(first, second)
    Object.assign(picture, { mm_per_pixel: picture.mm_per_pixel * by, x: first[0] - (first[0] - picture.x) * by, y: first[1] - (first[1] - picture.y) * by })
    apartPoints = [first, [first[0] + (second[0] - first[0]) * by, first[1] + (second[1] - first[1]) * by]]
    changed()
    fit()
  },
  "no-picture": () => { step(); state.picture = null; changed() },
}

box.addEventListener("click", (event) => {
  const what = event.target.closest("[data-do]")?.dataset.do
  if (what in ACTIONS) act(what)
  else if (what) DOES[what]()
})
document.getElementById("step-back").addEventListener("click", () => back(done, undone))
document.getElementById("step-again").addEventListener("click", () => back(undone, done))
document.getElementById("picture-shown").addEventListener("change", draw)

function fit() {
  const picture = state.picture
  const outline = own() ? state.points : figures?.outline ?? []
  const sheet = picture?.size ? [[picture.x, picture.y], [picture.x + picture.size[0] * picture.mm_per_pixel, picture.y + picture.size[1] * picture.mm_per_pixel]] : []
  canvas.fit([...outline, ...shapes().flatMap(cornersOf), ...(theirs ?? []), ...sheet])
}

for (const [id, axis] of [["corner-x", 0], ["corner-y", 1]]) {
  document.getElementById(id).addEventListener("change", (event) => {
    const value = read(event.target.value)
    event.target.classList.toggle("wrong-value", value === null)
    if (value === null) return say(`Found "${event.target.value}", expected a length such as ${example} ${units}.`)
    step()
    const corner = [...cornersOf(chosen.shape)[chosen.corner]]
    corner[axis] = value
    put(chosen.shape, chosen.corner, corner)
    changed()
  })
}

form.addEventListener("submit", (event) => event.preventDefault())
form.addEventListener("input", (event) => { event.target.closest(".field")?.querySelector("[data-also]")?.remove(); if (event.target.name && event.target.name !== "way") changed() })
for (const radio of form.elements.way) {
  radio.addEventListener("change", () => {
    step()
    if (radio.value === "stations" && !state.stations.length) state.stations = [["0", "0", ""], ["", "", ""]]
    state.way = radio.value
    action = null
    changed()
  })
}

svg.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) {
    if (event.key.toLowerCase() !== "z" || event.altKey) return
    event.preventDefault()
    return event.shiftKey ? back(undone, done) : back(done, undone)
  }
  const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key]
  const far = KEYS[event.shiftKey ? 1 : 0]
  const corner = chosen?.corner ?? null
  if (arrow && corner === null) canvas.pan(arrow[0] * 40 * canvas.pixel, arrow[1] * 40 * canvas.pixel)
  else if (arrow) {
    step()
    const [x, y] = cornersOf(chosen.shape)[corner]
    put(chosen.shape, corner, [exact(x + far * arrow[0]), exact(y + far * arrow[1])])
    changed()
  } else if (event.key === "+" || event.key === "-") canvas.zoom(event.key === "+" ? 1 / 1.5 : 1.5)
  else if (event.key.toLowerCase() === "n" || event.key.toLowerCase() === "p") {
    const all = editable().flatMap((shape) => cornersOf(shape).map((_, index) => [shape, index]))
    if (!all.length) return
    const at = all.findIndex(([shape, index]) => shape === chosen?.shape && index === (chosen.corner ?? 0))
    const next = at < 0 ? 0 : chosen.corner === null ? at : (at + (event.key.toLowerCase() === "n" ? 1 : all.length - 1)) % all.length
    choose(...all[next])
  } else if (event.key === "Delete" && corner !== null) remove(chosen.shape, corner)
  else if (event.key === "Insert" && corner !== null && chosen.shape.points) { step(); insert(chosen.shape, corner) }
  else if (event.key === "Escape") { action = null; choose(null) }
  else if (event.key === "Enter" && action?.finish) action.finish()
  else return
  event.preventDefault()
})

// ---- talking with the program ----

function sent() {
  const fields = Object.fromEntries([...new FormData(form)].filter(([key, value]) => typeof value === "string" && key !== "way"))
  const picture = state.picture && { digest: state.picture.digest, mm_per_pixel: state.picture.mm_per_pixel, x: state.picture.x, y: state.picture.y }
  const shape = ({ origin, kind, thickness, points, at, size }) => ({ origin, ...(kind ? { kind } : {}), ...(thickness !== undefined ? { thickness } : {}), ...(points ? { points } : { at, size }) })
  return { file, drawing: state.drawing, measured: file ? "" : state.measured, digest, over, fields, way: state.way, points: state.way === "points" ? state.points : [], stations: state.way === "stations" ? state.stations : [], back: state.back, flaws: state.flaws.map(shape), zones: state.zones.map(shape), unsure: state.unsure, picture }
}

const checks = new Latest(async () => {
  const found = await send("/leather/check", sent())
  if (found) told(found)
})

function told(found) {
  const first = !figures
  mistakes = found.mistakes
  figures = found.outline ? found : null
  const quiet = !touched && !state.points.length
  for (const place of box.querySelectorAll("[data-mistake]")) place.textContent = ""
  const field = (key) => box.querySelector(`[data-mistake="${CSS.escape(key)}"]`)
  for (const [key, words] of Object.entries(quiet ? {} : mistakes)) {
    if (/^(flaw|zone)\./.test(key)) continue // beside its own line
    const place = field(key) ?? field("")
    place.textContent = place.textContent ? `${place.textContent}; ${words}` : words
  }
  for (const one of form.elements) {
    if (!one.name || !one.classList) continue
    const wrong = Boolean(!quiet && mistakes[one.name])
    one.classList.toggle("wrong-value", wrong)
    if (wrong) one.setAttribute("aria-invalid", "true")
    else one.removeAttribute("aria-invalid")
  }
  for (const place of box.querySelectorAll("[data-figure]")) place.textContent = figures?.[place.dataset.figure] ?? "–"
  box.querySelector("[data-findings]").replaceChildren(...(figures?.findings ?? []).map(([severity, what, todo]) => {
    const line = document.createElement("li")
    const head = document.createElement("b")
    line.className = severity
    head.textContent = severity
    line.append(head, ` ${what} ${todo}`)
    return line
  }))
  show()
  if (first && figures && !own()) fit()
}

async function save() {
  if (action?.finish && action.points.length) return say("Finish what you are drawing first: Done or Cancel.")
  const asked = kept() + new URLSearchParams(new FormData(form))
  touched = true
  const found = await send("/leather/save", sent())
  if (!found) return
  if (found.conflict) return differ(found)
  if (found.mistakes) {
    const many = Object.keys(found.mistakes).length
    document.getElementById("hide-saved").textContent = `Nothing is saved yet: ${many === 1 ? "one thing is" : `${many} things are`} wrong.`
    told({ ...figures, mistakes: found.mistakes })
    const wrong = box.querySelector('[aria-invalid="true"]') ?? [...box.querySelectorAll(".mistake")].find((one) => one.textContent)
    wrong?.scrollIntoView({ block: "center" })
    return
  }
  saved = found.digest
  if (!file) { touched = false; location.replace(`/hide/${encodeURIComponent(found.file)}/edit`); return }
  digest = found.digest
  over = false
  theirs = null
  document.getElementById("hide-conflict").replaceChildren()
  for (const list of [state.flaws, state.zones]) {
    list.sort((a, b) => (a.origin ?? Infinity) - (b.origin ?? Infinity) || 0)
    list.forEach((one, number) => { one.origin = number })
  }
  touched = asked !== kept() + new URLSearchParams(new FormData(form))
  document.getElementById("hide-saved").textContent = "Saved. Leather has an Undo for it."
}

// The file was changed behind this page: both are shown, and nothing is lost.
function differ(found) {
  theirs = found.theirs
  const told = document.createElement("div")
  told.className = "conflict"
  told.setAttribute("role", "alert")
  const head = document.createElement("p")
  head.textContent = found.conflict.length ? "The file was changed elsewhere. Nothing of yours is written yet. Its edge is dotted in the drawing." : "The file was changed elsewhere, to what you have here."
  const wide = document.createElement("div")
  wide.className = "wide"
  const list = document.createElement("table")
  const heads = list.createTHead().insertRow()
  for (const text of ["", "In the file now", "As you have it here"]) { const cell = document.createElement("th"); cell.textContent = text; heads.append(cell) }
  const body = list.createTBody()
  for (const [name, file, here] of found.conflict) {
    const row = body.insertRow()
    for (const text of [name, file || "nothing", here || "nothing"]) row.insertCell().textContent = text
  }
  wide.append(list)
  const row = document.createElement("div")
  row.className = "row"
  const mine = document.createElement("button")
  mine.type = "button"
  mine.textContent = "Save mine over it"
  mine.addEventListener("click", () => { digest = found.digest; over = true; save() })
  const load = document.createElement("button")
  load.type = "button"
  load.textContent = "Take the file's version"
  load.addEventListener("click", () => { touched = false; location.reload() })
  row.append(mine, load)
  told.append(head, wide, row)
  document.getElementById("hide-conflict").replaceChildren(told)
  fit()
  told.scrollIntoView({ block: "center" })
}

listen((said) => {
  if (said.kind !== "stock" || !file || !(file in said.files)) return
  setTimeout(() => {
    if (said.files[file] !== digest && said.files[file] !== saved) say("This hide was changed in another tab. What you have here is not lost; save it to compare.")
  }, 400)
})
addEventListener("beforeunload", (event) => { if (touched && done.length) event.preventDefault() })

// ---- a picture to draw over ----

async function take(picture) {
  if (!picture) return
  if (!["image/png", "image/jpeg"].includes(picture.type)) return say(`${picture.name}: expected a PNG or JPEG picture.`)
  if (picture.size > LARGEST) return say(`${picture.name}: larger than 8 MB; save it smaller.`)
  now.textContent = "The picture is opened …"
  const answer = await fetch("/leather/picture", { method: "POST", headers: { "x-bench-post": post, "content-type": picture.type }, body: picture }).catch(() => null)
  if (!answer?.ok) { show(); return say(answer ? await answer.text() : SILENT) }
  const found = await answer.json()
  step()
  const size = await sizeOf(found.digest)
  state.picture = { digest: found.digest, size, mm_per_pixel: 2000 / size[0], x: 0, y: 0 }
  touched = true
  action = null
  changed()
  fit()
  now.textContent = "Tap two points that you know the distance of, to set the scale: see Over a picture."
}

const sizeOf = (of) => new Promise((resolve, reject) => {
  const image = new Image()
  image.onload = () => resolve([image.naturalWidth, image.naturalHeight])
  image.onerror = () => reject(new Error("the picture is gone"))
  image.src = `/leather/picture/${of}`
})

document.getElementById("picture-file").addEventListener("change", (event) => { take(event.target.files[0]); event.target.value = "" })
svg.addEventListener("dragover", (event) => event.preventDefault())
svg.addEventListener("drop", (event) => { event.preventDefault(); take(event.dataTransfer.files[0]) })

// ---- begin ----

if (state.picture) sizeOf(state.picture.digest).then((size) => { state.picture.size = size; fit() }, () => say("The picture kept beside the hide cannot be shown."))
fit()
if (own() && !state.points.length) act("edge")
else show()
whenOn(() => checks.ask(true))
