// Corners, stations, flaws and places as lines of fields; the one being typed in is left alone.
import { NEAR, cellShown, cellTyped, exact, nearest, read, shown as short, units } from "./lengths.mjs"

const KINDS = [["hole", "hole or cut"], ["mark", "mark: scar or brand"], ["loose", "loose leather"]]

function button(words, label, work) {
  const made = document.createElement("button")
  Object.assign(made, { type: "button", textContent: words })
  if (label) made.setAttribute("aria-label", label)
  made.addEventListener("click", work)
  return made
}

function field(label, value, work) {
  const made = document.createElement("input")
  Object.assign(made, { value, inputMode: "decimal" })
  made.setAttribute("aria-label", label)
  made.addEventListener("change", () => work(made))
  return made
}

function fill(input, value) {
  if (document.activeElement === input || (input.dataset.shown === String(value) && input.classList.contains("wrong-value"))) return
  input.value = input.dataset.shown = value
  input.classList.remove("wrong-value")
  input.removeAttribute("aria-invalid")
}

// A number that cannot be read stays in its field, marked; nothing else happens.
function number(input, work) {
  const value = read(input.value)
  input.classList.toggle("wrong-value", value === null)
  input.setAttribute("aria-invalid", String(value === null))
  if (value !== null) work(value)
}

export function cornerTable(box, of, { step, changed, choose }) {
  let inputs = []
  let points = []
  const build = () => {
    const table = document.createElement("table")
    inputs = points.map((_, index) => {
      const row = table.insertRow()
      row.insertCell().textContent = index + 1
      const pair = ["x", "y"].map((axis, at) => {
        const input = field(`${of}, corner ${index + 1}, ${axis} in ${units}`, "", (one) => number(one, (value) => { step(); points[index] = points[index].with(at, value); changed() }))
        input.addEventListener("focus", () => choose?.(index))
        row.insertCell().append(input)
        return input
      })
      row.insertCell().append(button("+", `${of}: add a corner after corner ${index + 1}`, () => { step(); const next = points[(index + 1) % points.length]; points.splice(index + 1, 0, [0, 1].map((at) => exact((points[index][at] + next[at]) / 2))); changed(); inputs[index + 1][0].focus() }))
      row.insertCell().append(button("×", `${of}: remove corner ${index + 1}`, () => { step(); points.splice(index, 1); changed() }))
      return pair
    })
    box.replaceChildren(table, button("Add a corner", "", () => { step(); points.push([...(points.at(-1) ?? [0, 0])]); changed(); inputs.at(-1)[0].focus() }))
  }
  const show = () => {
    if (folded && !folded.open) return
    if (inputs.length !== points.length || !box.children.length) build()
    inputs.forEach((pair, index) => pair.forEach((input, at) => fill(input, short(points[index][at]))))
  }
  const folded = box.closest("details") // hundreds of corners are filled in only while they are seen
  folded?.addEventListener("toggle", show)
  return (now) => { points = now; show() }
}

export function stationTable(box, { step, changed }) {
  let inputs = []
  let rows = []
  const names = ["Along the tape", "To the lower edge", "To the upper edge"]
  const build = () => {
    const table = document.createElement("table")
    const head = table.createTHead().insertRow()
    for (const words of [...names, ""]) { const cell = document.createElement("th"); cell.textContent = words; head.append(cell) }
    const body = table.createTBody()
    inputs = rows.map((_, index) => {
      const row = body.insertRow()
      const cells = names.map((words, at) => {
        const input = field(`Station ${index + 1}: ${words.toLowerCase()}, ${units}`, "", (one) => { step(); rows[index] = rows[index].with(at, cellTyped(one.value)); changed() })
        row.insertCell().append(input)
        return input
      })
      row.insertCell().append(button("×", `Remove station ${index + 1}`, () => { step(); rows.splice(index, 1); changed() }))
      return cells
    })
    box.replaceChildren(table, button("Add a station", "", () => { step(); rows.push(["", "", ""]); changed(); inputs.at(-1)[0].focus() }))
  }
  return (now) => {
    rows = now
    if (inputs.length !== rows.length || !box.children.length) build()
    inputs.forEach((cells, index) => cells.forEach((input, at) => fill(input, cellShown(rows[index][at]))))
  }
}

// Flaws, or places thicker or thinner, one a line.
export function shapeList(list, what, { step, changed, choose, remove }) {
  let lines = []
  const line = (shape, index) => {
    const item = document.createElement("li")
    const [head, row] = [document.createElement("div"), document.createElement("div")]
    head.className = row.className = "row"
    item.append(head)
    const fills = []
    const labelled = (words, input) => { const label = document.createElement("label"); label.append(words, input); row.append(label) }
    if (what === "flaw") {
      const kind = document.createElement("select")
      kind.append(...KINDS.map(([value, words]) => new Option(words, value)))
      kind.setAttribute("aria-label", `Flaw ${index + 1}: what it is`)
      kind.addEventListener("change", () => { step(); shape.kind = kind.value; changed() })
      fills.push(() => { kind.value = shape.kind })
      head.prepend(kind)
    } else {
      const thick = field(`Place ${index + 1}: thickness`, shape.thickness, () => {})
      thick.addEventListener("input", () => { shape.thickness = thick.value; changed() })
      fills.push(() => fill(thick, shape.thickness))
      labelled("Thickness", thick)
    }
    if (shape.points) {
      const more = document.createElement("details")
      const many = document.createElement("summary")
      const place = document.createElement("div")
      place.className = "corners"
      more.append(many, place)
      const table = cornerTable(place, `${what === "flaw" ? "Flaw" : "Place"} ${index + 1}`, { step, changed, choose: (corner) => choose(shape, corner) })
      fills.push(() => { many.textContent = `${shape.points.length} corners`; table(shape.points) })
      item.append(row, more)
    } else {
      const one = (words, get, set) => {
        const input = field(`Flaw ${index + 1}: ${words} in ${units}`, "", (given) => number(given, (value) => { step(); set(value); changed() }))
        fills.push(() => fill(input, short(get())))
        labelled(`${words}, ${units}`, input)
      }
      one("x", () => shape.at[0], (value) => { shape.at = [value, shape.at[1]] })
      one("y", () => shape.at[1], (value) => { shape.at = [shape.at[0], value] })
      one("across", () => shape.size, (value) => { shape.size = value })
      item.append(row)
    }
    head.append(button("Show it", `Show ${what === "flaw" ? "flaw" : "place"} ${index + 1}`, () => choose(shape, null)), button("Remove", `Remove ${what === "flaw" ? "flaw" : "place"} ${index + 1}`, () => remove(shape)))
    const said = document.createElement("p")
    said.className = "mistake"
    item.append(said)
    list.append(item)
    return { item, said, shape, fills }
  }
  return (shapes, mistakes, chosen) => {
    if (lines.length !== shapes.length || lines.some((one, index) => one.shape !== shapes[index])) {
      list.replaceChildren()
      lines = shapes.map(line)
    }
    lines.forEach(({ item, said, shape, fills }, index) => {
      for (const one of fills) one()
      said.textContent = mistakes[`${what}.${index}`] ?? ""
      item.classList.toggle("chosen", shape === chosen)
    })
  }
}

// Stretches of the edge that could not be seen well, one a line, until somebody has looked.
export function unsureList(box, { showIt, sure }) {
  const list = box.querySelector("ul")
  let lines = []
  return (now) => {
    box.hidden = !now.length
    if (lines.length === now.length && lines.every((one, index) => one === now[index])) return
    lines = [...now]
    list.replaceChildren(...lines.map((one, index) => {
      const item = document.createElement("li")
      const row = document.createElement("div")
      row.className = "row"
      const [x, y] = one.points[Math.floor(one.points.length / 2)]
      item.append(`Near x ${short(nearest(x, NEAR))}, y ${short(nearest(y, NEAR))} ${units}; may be off by ${short(one.within)} ${units}.`, row)
      row.append(button("Show it", `Show unsure stretch ${index + 1}`, () => showIt(one)), button("I have looked: it is right", `Unsure stretch ${index + 1}: I have looked, it is right`, () => sure(one)))
      return item
    }))
  }
}
