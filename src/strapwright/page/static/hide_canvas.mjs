// A sheet of squares in the house's unit, y upward, that is zoomed, moved and tapped; what is on it is drawn by whoever has it.
import { make } from "./hide_picture.mjs"
import { AFAR, NEAR, nearest, SQUARES } from "./lengths.mjs"

const LEAST = 20 // mm from side to side
const MOST = 30000
const STILL = 6 // px that a tap may move

export class Canvas {
  // grab(point, reach) returns what a drag there moves, with move(point) and end(); tap(point, reach) does the rest.
  constructor(svg, { grab, tap, drawn }) {
    Object.assign(this, { svg, grab, tap, drawn, pointers: new Map(), view: { x: 1200, y: 600, width: 2700 } })
    this.grid = make("g", {})
    this.layer = make("g", { transform: "scale(1,-1)" })
    svg.append(this.grid, this.layer)
    svg.addEventListener("pointerdown", (event) => this.down(event))
    svg.addEventListener("pointermove", (event) => this.move(event))
    svg.addEventListener("pointerup", (event) => this.up(event, true))
    svg.addEventListener("pointercancel", (event) => this.up(event, false))
    svg.addEventListener("wheel", (event) => { event.preventDefault(); this.zoom(1.0015 ** event.deltaY, this.at(event)) }, { passive: false })
    new ResizeObserver(() => this.show()).observe(svg)
  }

  get pixel() { return this.view.width / (this.svg.clientWidth || 1) } // mm
  get snap() { return this.pixel > 1.5 ? AFAR : NEAR }
  get squares() { return SQUARES.find(([side]) => side / this.pixel >= 9) ?? SQUARES.at(-1) } // a square's side, and how many to a bold line

  at(event) {
    const box = this.svg.getBoundingClientRect()
    const { x, y } = this.view
    return [x + (event.clientX - box.left - this.svg.clientLeft - this.svg.clientWidth / 2) * this.pixel, y - (event.clientY - box.top - this.svg.clientTop - this.svg.clientHeight / 2) * this.pixel]
  }

  rounded(point) { return point.map((one) => nearest(one, this.snap)) }

  show() {
    const { x, y, width } = this.view
    const height = this.pixel * this.svg.clientHeight
    const box = [x - width / 2, -y - height / 2, width, height]
    this.svg.setAttribute("viewBox", box.join(" "))
    const [side, bold] = this.squares
    this.grid.replaceChildren(...[[1, "grid"], [bold, "grid far"]].map(([many, look]) => {
      const step = many * side
      let path = ""
      for (let at = Math.ceil(box[0] / step) * step; at < box[0] + box[2]; at += step) path += `M${at} ${box[1]}v${height}`
      for (let at = Math.ceil(box[1] / step) * step; at < box[1] + box[3]; at += step) path += `M${box[0]} ${at}h${width}`
      return make("path", { class: look, d: path })
    }))
    this.drawn()
  }

  zoom(by, about = [this.view.x, this.view.y]) {
    const width = Math.min(MOST, Math.max(LEAST, this.view.width * by))
    const real = width / this.view.width
    this.view = { x: about[0] + (this.view.x - about[0]) * real, y: about[1] + (this.view.y - about[1]) * real, width }
    this.show()
  }

  pan(dx, dy) { this.view.x += dx; this.view.y += dy; this.show() }

  fit(points) {
    if (!points.length) return this.show()
    const [xs, ys] = [0, 1].map((axis) => points.map((one) => one[axis]))
    const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)]
    const shape = (this.svg.clientWidth || 1) / (this.svg.clientHeight || 1)
    this.view = { x: (x0 + x1) / 2, y: (y0 + y1) / 2, width: Math.max(LEAST, 1.12 * Math.max(x1 - x0, (y1 - y0) * shape)) }
    this.show()
  }

  down(event) {
    if (event.button !== 0 && event.pointerType === "mouse") return
    event.preventDefault()
    this.svg.focus({ preventScroll: true })
    this.svg.setPointerCapture(event.pointerId)
    this.pointers.set(event.pointerId, { x: event.clientX, y: event.clientY })
    if (this.pointers.size === 1) {
      this.reach = (event.pointerType === "touch" ? 24 : 11) * this.pixel
      this.begun = { x: event.clientX, y: event.clientY, still: true, held: this.grab(this.at(event), this.reach) }
    } else {
      this.begun?.held?.cancel()
      this.begun = null
    }
  }

  move(event) {
    const before = this.pointers.get(event.pointerId)
    if (!before) return
    const now = { x: event.clientX, y: event.clientY }
    if (this.pointers.size === 2) { // two fingers: closer, further away, aside
      const other = [...this.pointers].find(([id]) => id !== event.pointerId)[1]
      const apart = (one) => Math.hypot(one.x - other.x, one.y - other.y) || 1
      this.pointers.set(event.pointerId, now)
      this.pan(-((now.x - before.x) / 2) * this.pixel, ((now.y - before.y) / 2) * this.pixel)
      this.zoom(apart(before) / apart(now), this.at({ clientX: (now.x + other.x) / 2, clientY: (now.y + other.y) / 2 }))
      return
    }
    this.pointers.set(event.pointerId, now)
    if (!this.begun) return
    if (this.begun.still && Math.hypot(now.x - this.begun.x, now.y - this.begun.y) < STILL) return
    this.begun.still = false
    if (this.begun.held) this.begun.held.move(this.at(event))
    else this.pan(-(now.x - before.x) * this.pixel, (now.y - before.y) * this.pixel)
  }

  up(event, sound) {
    if (!this.pointers.delete(event.pointerId)) return
    const begun = this.begun
    if (this.pointers.size || !begun) return
    this.begun = null
    if (!sound) return begun.held?.cancel()
    if (begun.still) this.tap(this.at(event), this.reach)
    else begun.held?.end()
  }
}
