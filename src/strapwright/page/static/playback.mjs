// The cuts of one sheet, played back: a slider through the time the machine will take.
const SVG = "http://www.w3.org/2000/svg"
const SAMPLES = 120
const KINDS = { cut: "cut", score: "scored", punch: "marked for the punch", travel: "travel, tool off" }

export class Player {
  constructor(sheet) {
    this.sheet = sheet
    this.faster = 60
    this.box = document.createElement("figure")
    this.box.className = "player"
    const name = document.createElement("figcaption")
    name.textContent = `${sheet.name}: ${sheet.words}`
    this.slider = document.createElement("input")
    Object.assign(this.slider, { type: "range", min: 0, max: sheet.seconds, step: "any", value: 0 })
    this.slider.setAttribute("aria-label", `Time on ${sheet.name}`)
    this.slider.addEventListener("input", () => { this.stop(); this.show(Number(this.slider.value)) })
    this.button = this.knob("Play", () => { if (this.playing) this.stop(); else this.play() })
    const speed = document.createElement("select")
    speed.setAttribute("aria-label", "How fast")
    for (const times of [10, 60, 300]) speed.append(new Option(`${times} times as fast`, times, times === this.faster, times === this.faster))
    speed.addEventListener("change", () => { this.faster = Number(speed.value) })
    this.words = document.createElement("p")
    this.words.className = "now"
    this.words.setAttribute("role", "status")
    const row = document.createElement("div")
    row.className = "row controls"
    row.append(this.button, this.knob("One back", () => this.step(-1)), this.knob("One on", () => this.step(1)), this.nearer(), speed)
    this.box.append(name, this.picture(), this.slider, row, this.words, this.key(), this.steps())
    this.show(0)
  }

  knob(words, act) {
    const button = document.createElement("button")
    button.type = "button"
    button.textContent = words
    button.addEventListener("click", act)
    return button
  }

  picture() {
    const width = this.sheet.box[2]
    const [wide, high] = this.sheet.bed
    const view = element("svg", { class: "strap-drawing cuts", role: "img" })
    this.view = view
    this.frame(this.sheet.box)
    view.setAttribute("aria-label", `The bed with the hide, and what is cut on ${this.sheet.name}`)
    view.append(element("rect", { x: 0, y: -high, width: wide, height: high, class: "bed-edge" }))
    if (this.sheet.leather) view.append(element("path", { d: this.sheet.leather, class: "leather" }))
    const planned = this.sheet.moves.filter((move) => move.path && move.kind !== "travel").map((move) => move.path).join(" ")
    view.append(element("path", { d: planned, class: "planned" }))
    this.paths = this.sheet.moves.map((move) => {
      if (!move.path) return null
      const path = element("path", { d: move.path, class: `move-${move.kind}` })
      view.append(path)
      return path
    })
    for (const [name, hx, hy] of this.sheet.holes) {
      const reach = width / 60
      view.append(element("path", { d: `M${hx - reach} ${hy}H${hx + reach}M${hx} ${hy - reach}V${hy + reach}`, class: "pin" }))
      const label = element("text", { x: hx + reach, y: hy - reach / 2, "font-size": width / 40 })
      label.textContent = `hole ${name}`
      view.append(label)
    }
    this.part = element("path", { class: "unseen" })
    view.append(this.part)
    this.tool = element("circle", { r: width / 130, class: "tool" })
    view.append(this.tool)
    return view
  }

  // Look at the cuts alone, or at the whole bed again.
  nearer() {
    const button = this.knob("Nearer", () => {
      const near = button.getAttribute("aria-pressed") !== "true"
      button.setAttribute("aria-pressed", near)
      this.frame(near ? this.sheet.cuts : this.sheet.box)
    })
    button.setAttribute("aria-pressed", false)
    return button
  }

  frame([x, y, width, height]) {
    const edge = width / 60
    this.view.setAttribute("viewBox", `${x - edge} ${y - edge} ${width + 2 * edge} ${height + 2 * edge}`)
  }

  // What the lines mean, each drawn as it is in the picture.
  key() {
    const list = document.createElement("ul")
    list.className = "key"
    const kinds = new Set(this.sheet.moves.map((move) => move.kind))
    for (const [kind, words] of Object.entries(KINDS)) {
      if (!kinds.has(kind)) continue
      const line = document.createElement("li")
      const sample = element("svg", { viewBox: "0 0 40 10", class: "cuts sample", "aria-hidden": "true" })
      sample.append(element("path", { d: "M0 5H40", class: `move-${kind}` }))
      line.append(sample, words)
      list.append(line)
    }
    return list
  }

  // What is done at the machine for this sheet, in the cut sheet's own words.
  steps() {
    const box = document.createElement("details")
    box.open = this.sheet.holes.length > 0
    const head = document.createElement("summary")
    head.textContent = `What you do for ${this.sheet.name}`
    const text = document.createElement("pre")
    text.className = "sheet-steps"
    text.tabIndex = 0
    text.textContent = this.sheet.steps.join("\n")
    box.append(head, text)
    return box
  }

  // Draw what is done at a time: moves that have ended whole, the one under way in part.
  show(seconds) {
    this.now = Math.max(0, Math.min(seconds, this.sheet.seconds))
    let under = null
    let at = null
    this.part.setAttribute("class", "unseen")
    this.sheet.moves.forEach((move, index) => {
      const share = move.seconds > 0 ? (this.now - move.begins) / move.seconds : this.now >= move.begins ? 1 : 0
      const path = this.paths[index]
      if (share >= 0 && share < 1) under = move
      if (!path) return
      path.classList.toggle("later", share < 1)
      if (share >= 1) at = path
      if (share > 0 && share < 1) {
        const points = sampled(path, share)
        this.part.setAttribute("d", `M${points.map((one) => `${one.x} ${one.y}`).join("L")}`)
        this.part.setAttribute("class", `move-${move.kind}`)
        at = points.at(-1)
      }
    })
    if (at?.getTotalLength) at = at.getPointAtLength(at.getTotalLength())
    this.tool.setAttribute("cx", at ? at.x : 0)
    this.tool.setAttribute("cy", at ? at.y : 0)
    this.slider.value = this.now
    const clock = `${minutes(this.now)} of ${minutes(this.sheet.seconds)}`
    this.slider.setAttribute("aria-valuetext", clock)
    const last = Math.max(0, ...this.sheet.moves.map((move) => move.number))
    let doing = "done"
    if (this.now <= 0) doing = "not begun"
    else if (under?.kind === "travel") doing = KINDS.travel
    else if (under) doing = `${KINDS[under.kind]}, ${under.part}, path ${under.number} of ${last}`
    this.words.textContent = `${clock} · ${doing}`
  }

  // Go to where the path before or after this one begins.
  step(way) {
    this.stop()
    const begins = this.sheet.moves.filter((move) => move.kind !== "travel").map((move) => move.begins)
    const next = way > 0 ? begins.find((one) => one > this.now + 0.01) : begins.findLast((one) => one < this.now - 0.01)
    this.show(next ?? (way > 0 ? this.sheet.seconds : 0))
  }

  play() {
    if (this.now >= this.sheet.seconds) this.show(0)
    this.button.textContent = "Pause"
    let last = performance.now()
    const step = (time) => {
      const next = this.now + (this.faster * Math.max(0, time - last)) / 1000
      last = time
      this.show(next)
      if (this.now < this.sheet.seconds) this.playing = requestAnimationFrame(step)
      else this.stop()
    }
    this.playing = requestAnimationFrame(step)
  }

  stop() {
    cancelAnimationFrame(this.playing)
    this.playing = null
    this.button.textContent = "Play"
  }
}

// Points along a share of a path. (A dash as long as the share is drawn wrong where strokes do not scale.)
function sampled(path, share) {
  const long = path.getTotalLength() * share
  return Array.from({ length: SAMPLES + 1 }, (_, k) => path.getPointAtLength((long * k) / SAMPLES))
}

function element(name, values) {
  const made = document.createElementNS(SVG, name)
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value)
  return made
}

function minutes(seconds) {
  const whole = Math.round(seconds)
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`
}
