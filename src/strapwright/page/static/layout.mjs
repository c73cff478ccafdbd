// Parts on hides, moved by pointer or keys; the program says whether one may lie where it is put.
import { Latest, listen, send } from "./talk.mjs"

const SVG = "http://www.w3.org/2000/svg"
const NUDGE = 1
const FAR_NUDGE = 10

function make(name, attributes, ...children) {
  const made = document.createElementNS(SVG, name)
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value)
  made.append(...children)
  return made
}

export function openLayout() {
  const box = document.getElementById("layout")
  if (box) new Layout(box).load()
}

class Layout {
  constructor(box) {
    this.box = box
    this.url = box.dataset.url
    this.words = document.getElementById("chosen-part")
    this.usual = this.words.textContent
    this.checks = new Latest((part) => this.check(part))
    const job = document.querySelector("[data-job]").dataset.job
    this.parts = new Map()
    this.queue = Promise.resolve()
    listen((said) => {
      if (said.kind === "changed" && said.job === job) this.next(() => { if (said.digest || said.layout !== this.digest) return this.load() })
    })
  }

  // One thing after another: what waits finds the layout as the one before it left it.
  next(work) {
    this.queue = this.queue.then(work, work)
    return this.queue
  }

  async load() {
    const answer = await fetch(this.url)
    if (!answer.ok) { this.words.textContent = await answer.text(); return }
    const found = await answer.json()
    if (!found.wrong) return this.draw(found)
    this.words.textContent = found.wrong.join(" ")
    document.getElementById("hides").replaceChildren()
  }

  draw(found) {
    this.digest = found.digest
    this.views = new Map()
    const holders = found.hides.map((hide) => {
      const [x, y, width, height] = hide.box
      const edge = 0.015 * width
      const view = make("svg", { class: "strap-drawing hide-view", viewBox: `${x - edge} ${y - edge} ${width + 2 * edge} ${height + 2 * edge}`, role: "group", "aria-label": `${hide.name}, ${(100 * hide.yield).toFixed(1)} % used` })
      view.append(make("polygon", { class: "hide", points: hide.outline }))
      for (const flaw of hide.flaws) view.append(make("polygon", { class: `flaw-${flaw.kind}`, fill: "none", points: flaw.outline }))
      this.views.set(hide.name, view)
      const holder = document.createElement("figure")
      const name = document.createElement("figcaption")
      name.textContent = `${hide.name} · ${(100 * hide.yield).toFixed(1)} % of the sound leather used`
      holder.append(name, view)
      return holder
    })
    document.getElementById("hides").replaceChildren(...holders)
    this.parts = new Map(found.parts.map((part) => [part.id, part]))
    for (const part of found.parts) this.views.get(part.hide).append(this.part(part))
    if (found.unplaced.length) this.words.textContent = `Could not be placed: ${found.unplaced.map((one) => `${one.id} (${one.reason})`).join("; ")}`
  }

  part(part) {
    part.turns = 0
    part.node = make("g", { class: "piece", tabindex: "0", role: "button", "aria-label": part.id, "data-part": part.id })
    part.node.append(make("path", { class: `part-${part.kind} edge`, d: part.path }))
    for (const one of part.features) part.node.append(make("path", { class: `feature-${one.kind}`, fill: "none", d: one.path }))
    const [x0, y0, x1, y1] = part.box
    const size = Math.min(0.5 * (y1 - y0), 0.09 * (x1 - x0))
    const flip = Math.cos(part.turn) < 0 ? 180 : 0
    const middle = [(x0 + x1) / 2, -(y0 + y1) / 2]
    const label = make("text", { x: middle[0], y: middle[1] + size * 0.35, "font-size": size, "text-anchor": "middle", transform: `rotate(${flip} ${middle[0]} ${middle[1]})${part.mirror ? ` translate(0 ${2 * middle[1]}) scale(1 -1)` : ""}` })
    label.textContent = part.locked ? `${part.id} · locked` : part.id
    part.node.append(label)
    part.node.classList.toggle("locked", part.locked)
    this.lay(part)
    part.node.addEventListener("pointerdown", (event) => this.grab(part, event))
    part.node.addEventListener("keydown", (event) => this.key(part.id, event))
    part.node.addEventListener("focus", () => { this.words.textContent = this.about(part) })
    return part.node
  }

  about(part) { return `${part.id} on ${part.hide}: x ${part.x.toFixed(1)}, y ${part.y.toFixed(1)} mm. ${this.usual}` }

  angle(part) { return part.turn + part.turns * part.step }

  lay(part) {
    const turn = (-this.angle(part) * 180) / Math.PI
    part.node.setAttribute("transform", `translate(${part.x} ${-part.y}) rotate(${turn})${part.mirror ? " scale(1 -1)" : ""}`)
  }

  // Where a screen's point is on a hide, y up, mm.
  at(view, event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(view.getScreenCTM().inverse())
    return [point.x, -point.y]
  }

  under(event) {
    for (const [name, view] of this.views) {
      const box = view.getBoundingClientRect()
      if (event.clientX >= box.left && event.clientX <= box.right && event.clientY >= box.top && event.clientY <= box.bottom) return name
    }
    return null
  }

  grab(part, event) {
    if (event.button !== 0) return
    event.preventDefault()
    part.node.focus()
    if (part.locked) { this.words.textContent = `${part.id} is locked. Press L to unlock it.`; return }
    this.remember(part)
    let held = this.at(this.views.get(part.hide), event)
    part.node.classList.add("held")
    this.views.get(part.hide).append(part.node) // above the others
    const move = (next) => {
      if (next.pointerId !== event.pointerId) return
      const hide = this.under(next) ?? part.hide
      if (hide !== part.hide) {
        this.views.get(hide).append(part.node)
        const [x, y] = this.at(this.views.get(hide), next)
        part.x += x - held[0]
        part.y += y - held[1]
        held = [x, y]
        part.hide = hide
      }
      const [x, y] = this.at(this.views.get(part.hide), next)
      part.x += x - held[0]
      part.y += y - held[1]
      held = [x, y]
      this.lay(part)
      this.checks.ask(part)
    }
    const end = new AbortController() // a part that changes hides would lose a pointer captured by it
    const drop = async (last) => {
      if (last.pointerId !== event.pointerId) return
      end.abort()
      part.node.classList.remove("held")
      if (last.type === "pointercancel") return this.back(part)
      if (part.x !== part.before.x || part.y !== part.before.y || part.hide !== part.before.hide) await this.next(() => this.place(part))
    }
    document.addEventListener("pointermove", move, { signal: end.signal })
    document.addEventListener("pointerup", drop, { signal: end.signal })
    document.addEventListener("pointercancel", drop, { signal: end.signal })
  }

  key(id, event) {
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key]
    const letter = event.key.toLowerCase()
    if (!steps && letter !== "t" && letter !== "l") return
    if (event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    this.next(() => this.press(this.parts.get(id), steps, letter, event.shiftKey))
  }

  async press(part, steps, letter, shift) {
    if (letter === "l") return this.lock(part)
    if (part.locked) { this.words.textContent = `${part.id} is locked. Press L to unlock it.`; return }
    this.remember(part)
    if (steps) {
      const far = shift ? FAR_NUDGE : NUDGE
      part.x += far * steps[0]
      part.y += far * steps[1]
    } else this.turn(part)
    this.lay(part)
    await this.place(part)
  }

  // Turn a part about its middle by its least turn: a strap end for end.
  turn(part) {
    const [x0, y0, x1, y1] = part.box
    const [cx, cy] = [(x0 + x1) / 2, ((y0 + y1) / 2) * (part.mirror ? -1 : 1)]
    const middle = () => {
      const [c, s] = [Math.cos(this.angle(part)), Math.sin(this.angle(part))]
      return [c * cx - s * cy, s * cx + c * cy]
    }
    const before = middle()
    part.turns += 1
    const after = middle()
    part.x += before[0] - after[0]
    part.y += before[1] - after[1]
  }

  remember(part) { part.before = { x: part.x, y: part.y, hide: part.hide, turns: part.turns } }

  back(part) {
    Object.assign(part, part.before)
    this.views.get(part.hide).append(part.node)
    part.node.classList.remove("bad", "held")
    this.lay(part)
  }

  move(part) { return { digest: this.digest, part: part.id, hide: part.hide, turns: part.turns, x: part.x, y: part.y } }

  async check(part) {
    const found = await send(`${this.url}/check`, this.move(part))
    if (!found || !part.node.classList.contains("held")) return
    part.node.classList.toggle("bad", found.faults.length > 0)
    this.words.textContent = found.faults.length ? found.faults[0] : `${part.id} may lie here.`
  }

  async place(part) {
    if (this.parts.get(part.id) !== part) return // drawn anew meanwhile
    const found = await send(`${this.url}/place`, this.move(part))
    if (!found || found.faults.length) {
      this.back(part)
      if (found) this.words.textContent = `${part.id} stays where it was: ${found.faults[0]}`
      return
    }
    this.draw(found)
    this.views.get(part.hide).querySelector(`[data-part="${CSS.escape(part.id)}"]`)?.focus()
    this.words.textContent = `${part.id} lies there now. ${this.usual}`
    const undo = document.getElementById("undo")
    undo.disabled = false
    undo.title = `${part.id}: moved`
  }

  async lock(part) {
    const found = await send(`${this.url}/lock`, { digest: this.digest, part: part.id, locked: !part.locked })
    if (!found) return
    this.draw(found)
    this.views.get(part.hide).querySelector(`[data-part="${CSS.escape(part.id)}"]`)?.focus()
  }
}
