// The cuts of a job, played back: a slider through the time the machine will take.
import { say } from "./talk.mjs"

const SVG = "http://www.w3.org/2000/svg"
const FASTER = 60

export function watchPlayback() {
  const box = document.getElementById("playback")
  if (!box) return
  box.querySelector("button[data-load]").addEventListener("click", async () => {
    const machine = document.querySelector("#cut select[name=machine]").value
    const fumes = document.querySelector("#cut input[name=fumes]").checked ? "&fumes=read" : ""
    const answer = await fetch(`${box.dataset.url}?machine=${encodeURIComponent(machine)}${fumes}`)
    if (!answer.ok) return say(await answer.text())
    const found = await answer.json()
    const place = box.querySelector("[data-sheets]")
    place.replaceChildren(...found.sheets.map((sheet) => new Player(sheet).box))
  })
}

class Player {
  constructor(sheet) {
    this.sheet = sheet
    this.box = document.createElement("figure")
    const name = document.createElement("figcaption")
    name.textContent = `${sheet.name}: ${sheet.words}`
    this.slider = document.createElement("input")
    Object.assign(this.slider, { type: "range", min: 0, max: Math.ceil(sheet.seconds), step: 0.1, value: 0 })
    this.slider.setAttribute("aria-label", `Time on ${sheet.name}, seconds`)
    this.slider.addEventListener("input", () => { this.stop(); this.show(Number(this.slider.value)) })
    this.button = document.createElement("button")
    this.button.type = "button"
    this.button.textContent = "Play"
    this.button.addEventListener("click", () => { if (this.playing) this.stop(); else this.play() })
    this.words = document.createElement("p")
    this.words.setAttribute("role", "status")
    const row = document.createElement("div")
    row.className = "row player"
    row.append(this.button, this.slider)
    this.box.append(name, this.picture(), row, this.words)
    this.show(0)
  }

  picture() {
    const [x, y, width, height] = this.sheet.box
    const view = document.createElementNS(SVG, "svg")
    view.setAttribute("viewBox", `${x - 5} ${y - 5} ${width + 10} ${height + 10}`)
    view.setAttribute("class", "strap-drawing cuts")
    view.setAttribute("role", "img")
    view.setAttribute("aria-label", `Cuts on ${this.sheet.name}`)
    const bed = document.createElementNS(SVG, "rect")
    const [wide, high] = this.sheet.bed
    for (const [key, value] of Object.entries({ x: 0, y: -high, width: wide, height: high, class: "bed-edge" })) bed.setAttribute(key, value)
    view.append(bed)
    this.paths = this.sheet.moves.map((move) => {
      if (!move.path) return null
      const path = document.createElementNS(SVG, "path")
      for (const [key, value] of Object.entries({ d: move.path, pathLength: 1, class: `move-${move.kind}` })) path.setAttribute(key, value)
      view.append(path)
      return path
    })
    return view
  }

  // Draw what is done at a time: moves that have ended whole, the one under way in part.
  show(seconds) {
    this.now = seconds
    let under = null
    this.sheet.moves.forEach((move, index) => {
      const share = move.seconds > 0 ? (seconds - move.begins) / move.seconds : seconds >= move.begins ? 1 : 0
      if (share >= 0 && share < 1) under = move
      const path = this.paths[index]
      if (!path) return
      path.toggleAttribute("hidden", share <= 0)
      if (share <= 0) path.setAttribute("visibility", "hidden")
      else path.removeAttribute("visibility")
      if (share >= 1) path.removeAttribute("stroke-dasharray")
      else if (share > 0) path.setAttribute("stroke-dasharray", `${share} 1`)
    })
    this.slider.value = seconds
    const minutes = Math.floor(seconds / 60)
    const clock = `${minutes}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`
    this.words.textContent = under ? `${clock} · ${under.kind} ${under.part}` : clock
  }

  play() {
    if (this.now >= this.sheet.seconds) this.show(0)
    this.button.textContent = "Pause"
    let last = performance.now()
    const step = (time) => {
      const next = this.now + (FASTER * (time - last)) / 1000
      last = time
      this.show(Math.min(next, this.sheet.seconds))
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
