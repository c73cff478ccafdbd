// Zones of a hide that this layout keeps clear: drawn, typed, changed, and free again.
import { make } from "./hide_picture.mjs"
import { send } from "./requests.mjs"

const CLOSE = 14

export class Zones {
  constructor(layout) {
    this.layout = layout
    this.box = document.getElementById("zones")
    this.list = this.box.querySelector("ul")
    this.form = this.box.querySelector("form")
    this.wrong = this.box.querySelector("[data-mistake]")
    this.form.addEventListener("submit", (event) => {
      event.preventDefault()
      const { hide, text } = this.form.elements
      this.ask({ hide: hide.value, text: text.value.trim() }, () => { text.value = "" })
    })
    for (const button of this.box.querySelectorAll("[data-draw]")) button.addEventListener("click", () => this.begin(button.dataset.draw))
    this.box.addEventListener("toggle", () => this.handles())
    document.addEventListener("keydown", (event) => {
      if (!this.drawing) return
      if (event.key === "Escape") this.end()
      if (event.key === "Enter" && this.drawing.points.length > 2) { event.preventDefault(); this.done() }
    })
  }

  draw(found) {
    this.end()
    this.found = found.zones
    this.box.hidden = !found.hides.length
    this.box.querySelector("[data-count]").textContent = found.zones.length ? `${found.zones.length}` : "none"
    this.form.elements.hide.replaceChildren(...found.hides.map((hide) => new Option(hide.name, hide.name)))
    this.list.replaceChildren(...found.zones.map((zone, index) => this.row(zone, index)))
    this.handles()
  }

  row(zone, index) {
    const item = document.createElement("li")
    const label = document.createElement("label")
    const field = document.createElement("input")
    field.value = zone.text
    field.addEventListener("change", () => this.ask({ index, hide: zone.hide, text: field.value.trim() || zone.text }))
    label.append(`Zone ${index + 1} on ${zone.hide}, mm`, field)
    const free = this.layout.button("Free again", {})
    free.setAttribute("aria-label", `Zone ${index + 1} on ${zone.hide}: free again`)
    free.addEventListener("click", () => this.ask({ index, text: "" }))
    item.append(label, free)
    return item
  }

  // Have the program keep a zone clear; what is wrong is said beside the field.
  ask(data, then = () => {}) {
    this.wrong.textContent = ""
    return this.layout.next(async () => {
      const found = await send(`${this.layout.url}/zone`, { digest: this.layout.digest, ...data }, (words) => { this.wrong.textContent = words })
      if (!found) return
      then()
      this.layout.draw(found)
      this.layout.undoable("a zone")
      this.layout.words.textContent = found.off.length ? `${found.off.join(", ")} lay there and ${found.off.length > 1 ? "are" : "is"} taken off; lay the job out again, or lay what was taken off by hand.` : "Nothing will be laid there now."
    })
  }

  // Corners that can be dragged, on every zone, while the zones are looked at.
  handles() {
    for (const view of this.layout.views?.values() ?? []) for (const one of view.querySelectorAll(".corner")) one.remove()
    if (!this.box.open || this.layout.following) return
    this.found?.forEach((zone, index) => {
      const view = this.layout.views.get(zone.hide)
      const points = zone.outline.split(" ").map((one) => one.split(",").map(Number))
      if (!view || points.length > 12) return // a round one is changed by its numbers
      const shape = [...view.querySelectorAll(".zone-clear")].find((one) => one.getAttribute("points") === zone.outline)
      points.forEach((point, number) => {
        const dot = make("circle", { class: "corner", cx: point[0], cy: point[1], r: view.viewBox.baseVal.width / 110, tabindex: "0", role: "button", "aria-label": `Corner ${number + 1} of zone ${index + 1} on ${zone.hide}` })
        const put = (x, y) => {
          point[0] = Math.round(x)
          point[1] = Math.round(y)
          dot.setAttribute("cx", point[0])
          dot.setAttribute("cy", point[1])
          shape.setAttribute("points", points.map((one) => one.join(",")).join(" "))
        }
        const keep = () => this.ask({ index, hide: zone.hide, text: points.map(([x, y]) => `${x},${-y}`).join(" ") })
        dot.addEventListener("pointerdown", (event) => {
          event.preventDefault()
          dot.setPointerCapture(event.pointerId)
          const move = (next) => { const [x, y] = this.layout.at(view, next); put(x, -y) }
          dot.addEventListener("pointermove", move)
          dot.addEventListener("pointerup", () => { dot.removeEventListener("pointermove", move); keep() }, { once: true })
        })
        dot.addEventListener("keydown", (event) => {
          const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key]
          if (!step) { if (event.key === "Enter") keep(); return }
          event.preventDefault()
          const far = event.shiftKey ? 10 : 1
          put(point[0] + far * step[0], point[1] + far * step[1])
        })
        view.append(dot)
      })
    })
  }

  begin(kind) {
    this.end()
    const views = [...this.layout.views.values()]
    const abort = new AbortController()
    this.drawing = { kind, points: [], abort }
    this.layout.box.classList.add("drawing-zone")
    this.layout.words.textContent = kind === "box" ? "Draw a box on a hide: press at one corner, let go at the other. Escape ends it." : "Tap the corners one after another, the first one again at the end. Escape ends it."
    for (const view of views) {
      view.addEventListener("pointerdown", (event) => { event.preventDefault(); this.press(view, event) }, { signal: abort.signal })
      view.addEventListener("pointermove", (event) => this.move(view, event), { signal: abort.signal })
      view.addEventListener("pointerup", (event) => this.release(view, event), { signal: abort.signal })
    }
    views[0].scrollIntoView({ block: "nearest" })
  }

  press(view, event) {
    const one = this.drawing
    if (one.view && one.view !== view) return
    const point = this.layout.at(view, event).map(Math.round)
    if (!one.view) {
      one.view = view
      one.hide = [...this.layout.views].find(([, other]) => other === view)[0]
      one.shape = make("polygon", { class: "flaw-once zone-clear", points: "" })
      view.append(one.shape)
    }
    if (one.kind === "box") {
      view.setPointerCapture(event.pointerId)
      one.start = point
    } else {
      const first = one.points[0]
      const scale = view.getScreenCTM().a
      if (first && one.points.length > 2 && Math.hypot(first[0] - point[0], first[1] - point[1]) * scale < CLOSE) { this.done(); return }
      one.points.push(point)
      this.outline([])
    }
  }

  move(view, event) {
    const one = this.drawing
    if (one?.view !== view) return
    const point = this.layout.at(view, event).map(Math.round)
    if (one.kind === "box" && one.start) {
      const [[x0, y0], [x1, y1]] = [one.start, point]
      one.points = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]
      this.outline([])
    } else if (one.kind === "corners") this.outline([point])
  }

  release(view) {
    const one = this.drawing
    if (one?.kind !== "box" || !one.start || one.view !== view) return
    if (one.points.length && one.points[0][0] !== one.points[2][0] && one.points[0][1] !== one.points[2][1]) this.done()
    else this.end()
  }

  outline(more) { this.drawing.shape.setAttribute("points", [...this.drawing.points, ...more].map(([x, y]) => `${x},${-y}`).join(" ")) }

  done() {
    const { hide, points } = this.drawing
    this.end()
    this.ask({ hide, text: points.map((one) => one.join(",")).join(" ") })
  }

  end() {
    if (!this.drawing) return
    this.drawing.abort.abort()
    this.drawing.shape?.remove()
    this.drawing = null
    this.layout.box.classList.remove("drawing-zone")
  }
}
