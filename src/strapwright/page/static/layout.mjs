// Parts on hides, moved by pointer or keys; the program says whether one may lie where it is put.
import { hideView, lay, partShape, percent, small } from "./hide_picture.mjs"
import { KEYS, inches, nearest, shown, units } from "./lengths.mjs"
import { Latest, listen, send } from "./requests.mjs"
import { Zones } from "./zones.mjs"

const REST = 500
const NEAR_EDGE = 40
const SCROLL = 14

const place = (mm) => inches ? shown(nearest(mm, KEYS[0])) : mm.toFixed(1)

export function openLayout() {
  const box = document.getElementById("layout")
  if (box) new Layout(box).begin()
}

class Layout {
  constructor(box) {
    this.box = box
    this.url = box.dataset.url
    this.words = document.getElementById("chosen-part")
    this.usual = this.words.textContent
    this.hands = document.getElementById("by-hand")
    this.tray = document.getElementById("tray")
    this.checks = new Latest((part) => this.check(part))
    this.zones = new Zones(this)
    this.parts = new Map()
    this.queue = Promise.resolve()
    this.best = 0
    const job = document.querySelector("[data-job]").dataset.job
    listen((said) => {
      if (said.job !== job) return
      if (said.kind === "job") this.hear(said)
      // A search that ends loads the page anew.
      else if (said.kind === "changed" && !this.searching) this.next(() => { if (said.layout ? said.layout !== this.digest : this.digest) return this.load() })
    })
    this.hands.addEventListener("click", (event) => {
      const button = event.target.closest("button")
      const part = this.parts.get(this.chosen)
      if (button && part) this.next(() => this.work(part, button.dataset))
    })
  }

  begin() {
    this.searching = Boolean(this.box.dataset.running)
    if (this.searching) this.next(() => this.follow())
    else if (this.box.dataset.laid) this.next(() => this.load())
  }

  hear({ stage, best }) {
    if (stage === "nesting") this.searching = true
    if (stage === "nesting" && best > this.best) { this.best = best; this.next(() => this.follow()) }
    if (stage === "failed" && this.searching) {
      this.searching = this.following = false
      if (this.box.dataset.laid) this.next(() => this.load())
      else this.box.hidden = true
    }
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
    this.box.hidden = false
    if (!found.wrong) {
      const held = document.activeElement?.dataset?.part
      this.draw(found)
      if (held) this.parts.get(held)?.node.focus({ preventScroll: true })
      return
    }
    this.words.textContent = found.wrong.join(" ")
    document.getElementById("hides").replaceChildren()
    this.hands.hidden = this.tray.hidden = this.zones.box.hidden = true
  }

  // The best of a search that goes on: shapes once, then places alone.
  async follow() {
    if (!this.following) {
      const found = await (await fetch(this.box.dataset.follow)).json()
      if (found.wrong) return
      this.following = true
      this.box.hidden = false
      this.show(found)
      this.words.textContent = "Searching: this is the best so far."
      this.hands.hidden = this.tray.hidden = this.zones.box.hidden = true
      return
    }
    const places = new Map((await (await fetch(`${this.box.dataset.follow}/places`)).json()).map((one) => [one.id, one]))
    if (!places.size) return
    for (const part of this.parts.values()) {
      const place = places.get(part.id)
      if (!place) { part.node.remove(); continue }
      Object.assign(part, place)
      this.views.get(part.hide)?.append(part.node)
      lay(part)
    }
  }

  // Draw hides with the parts on them.
  show(found) {
    this.found = found
    this.hides = new Map(found.hides.map((hide) => [hide.name, hide]))
    this.views = new Map()
    const holders = found.hides.map((hide) => {
      const view = hideView(hide, found.zones)
      this.views.set(hide.name, view)
      const holder = document.createElement("figure")
      if (matchMedia("(max-width: 820px)").matches) holder.tabIndex = 0 // scrolled sideways there
      const name = document.createElement("figcaption")
      name.textContent = this.following ? hide.name : `${hide.name} · ${percent(hide.yield)} of the sound leather used`
      holder.append(name, view)
      return holder
    })
    document.getElementById("hides").replaceChildren(...holders)
    this.parts = new Map([...found.parts, ...found.unplaced].map((part) => [part.id, part]))
    for (const part of this.parts.values()) {
      part.turns = 0
      partShape(part)
      if (part.hide) { this.views.get(part.hide).append(part.node); lay(part) }
    }
  }

  draw(found) {
    this.digest = found.digest
    this.show(found)
    for (const part of this.parts.values()) {
      part.node.setAttribute("tabindex", "0")
      part.node.setAttribute("role", "button")
      part.node.setAttribute("aria-label", part.locked ? `${part.id}, locked` : part.id)
      part.node.classList.toggle("locked", Boolean(part.locked))
      part.node.addEventListener("pointerdown", (event) => this.grab(part, event))
      // A finger on it drags it: what its style says of that is not heeded once it is put above the others.
      part.node.addEventListener("touchstart", (event) => { if (!part.locked && !this.zones.drawing) event.preventDefault() }, { passive: false })
      part.node.addEventListener("keydown", (event) => this.key(part.id, event))
      part.node.addEventListener("focus", () => this.choose(part))
      part.node.addEventListener("blur", () => { if (part.moving === "keys") this.next(() => this.settle(part, true)) })
    }
    this.drawTray(found.unplaced)
    this.zones.draw(found)
    document.querySelector("[data-layout-result]").textContent = found.result
    if (!this.parts.has(this.chosen)) this.chosen = null
    this.choose(this.parts.get(this.chosen), false)
    if (!this.chosen) this.words.textContent = this.usual
  }

  drawTray(unplaced) {
    this.tray.hidden = !unplaced.length
    this.tray.querySelector("ul").replaceChildren(...unplaced.map((part) => {
      const item = document.createElement("li")
      const button = document.createElement("button")
      button.type = "button"
      button.dataset.tray = part.id
      const name = document.createElement("b")
      name.textContent = part.id
      const reason = document.createElement("span")
      reason.textContent = part.reason
      button.append(name, small(part), reason)
      button.addEventListener("pointerdown", (event) => this.grab(part, event))
      button.addEventListener("click", () => this.choose(part))
      button.addEventListener("focus", () => this.choose(part))
      item.append(button)
      return item
    }))
  }

  // Say of a part what can be done with it.
  choose(part, say = true) {
    this.chosen = part?.id ?? null
    for (const one of this.parts.values()) one.node.classList.toggle("chosen", one === part)
    for (const one of this.tray.querySelectorAll("[data-tray]")) one.setAttribute("aria-pressed", String(one.dataset.tray === this.chosen))
    this.hands.hidden = !part
    if (!part) return
    const lies = Boolean(part.hide)
    this.hands.querySelector("b").textContent = part.id
    const shown = [...(lies ? [["lock", part.locked ? "Unlock" : "Lock"]] : []), ...(lies && !part.locked ? [["turn", "Turn"], ["off", "Take off"]] : [])]
    const buttons = shown.map(([what, words]) => this.button(words, { do: what }))
    if (!part.locked) for (const hide of this.hides.keys()) if (hide !== part.hide) buttons.push(this.button(`To ${hide}`, { do: "to", hide }))
    this.hands.querySelector("span").replaceChildren(...buttons)
    if (say) this.words.textContent = lies ? this.about(part) : `${part.id} is not laid: ${part.reason}. Drag it to a hide, or send it to one.`
  }

  button(words, data) {
    const made = document.createElement("button")
    made.type = "button"
    made.textContent = words
    Object.assign(made.dataset, data)
    return made
  }

  about(part) { return `${part.id} on ${part.hide}: x ${place(part.x)}, y ${place(part.y)} ${units}.${part.locked ? " It is locked." : ""} ${this.usual}` }

  // What a button asks of a part.
  async work(part, { do: what, hide }) {
    if (this.parts.get(part.id) !== part) return
    if (part.moving) await this.settle(part, true)
    const now = this.parts.get(part.id)
    if (what === "lock") return this.lock(now)
    if (what === "off") return this.keep(now, "off", {}, `${now.id} is taken off.`)
    if (what === "to") return this.send(now, hide)
    this.remember(now)
    this.turn(now)
    this.lay(now)
    return this.place(now)
  }

  async send(part, hide) {
    const found = await send(`${this.url}/room`, { digest: this.digest, part: part.id, hide })
    if (!found) return
    if (found.faults.length) { this.words.textContent = `${found.faults[0]}. Drag it to a place you see.`; return }
    this.remember(part)
    this.to(part, hide)
    Object.assign(part, { turns: found.turns, x: found.x, y: found.y })
    this.lay(part)
    await this.place(part)
  }

  lay(part) { lay(part, part.turns, part.node.classList.contains("bad") ? "✕ " : "") }

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

  // Take a part to another hide: it lies there along the straps as it did here.
  to(part, hide) {
    const there = this.hides.get(hide)
    part.turn = part.hide ? part.turn + there.direction - this.hides.get(part.hide).direction : there.direction
    part.mirror = there.mirror
    part.hide = hide
    this.views.get(hide).append(part.node)
  }

  grab(part, event) {
    if (event.button !== 0 || this.zones.drawing) return
    event.preventDefault()
    if (part.hide) {
      this.views.get(part.hide).append(part.node) // above the others; this takes the focus away
      part.node.focus({ preventScroll: true })
    } else this.choose(part)
    if (part.locked) { this.words.textContent = `${part.id} is locked. Unlock it first.`; return }
    if (part.moving !== "keys") this.remember(part)
    clearTimeout(this.resting)
    part.moving = "pointer"
    let held = part.hide ? this.at(this.views.get(part.hide), event) : null
    part.node.classList.add("held")
    const move = (next) => {
      if (next.pointerId !== event.pointerId) return
      if (next.clientY < NEAR_EDGE) window.scrollBy(0, -SCROLL)
      if (next.clientY > window.innerHeight - NEAR_EDGE) window.scrollBy(0, SCROLL)
      const hide = this.under(next) ?? part.hide
      if (!hide) return
      const [x, y] = this.at(this.views.get(hide), next)
      const [turn, mirror] = [part.turn, part.mirror]
      if (hide !== part.hide) this.to(part, hide)
      if (turn !== part.turn || mirror !== part.mirror) { // laid another way here: held by its middle
        const [mx, my] = this.middle(part)
        Object.assign(part, { x: x - mx, y: y - my })
      } else {
        part.x += x - held[0]
        part.y += y - held[1]
      }
      held = [x, y]
      this.lay(part)
      this.checks.ask(part)
    }
    const end = new AbortController() // a part that changes hides would lose a pointer captured by it
    const drop = async (last) => {
      if (last.pointerId !== event.pointerId) return
      end.abort()
      part.node.classList.remove("held")
      part.moving = null
      if (last.type === "pointercancel") { this.back(part); if (part.hide) this.words.textContent = this.about(part); return }
      if (part.x !== part.before.x || part.y !== part.before.y || part.hide !== part.before.hide) await this.next(() => this.place(part))
    }
    document.addEventListener("pointermove", move, { signal: end.signal })
    document.addEventListener("pointerup", drop, { signal: end.signal })
    document.addEventListener("pointercancel", drop, { signal: end.signal })
  }

  key(id, event) {
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key]
    const letter = event.key.toLowerCase()
    if (!steps && !["t", "l", "escape", "delete"].includes(letter)) return
    if (event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    this.next(() => this.press(this.parts.get(id), steps, letter, event.shiftKey))
  }

  // Keys move a part on at once, over others as well; it is put down after a moment's rest where it may lie.
  async press(part, steps, letter, shift) {
    if (!part?.hide) return
    if (letter === "escape") { if (part.moving) { this.back(part); this.words.textContent = this.about(part) } return }
    if (letter === "l" || letter === "delete") return this.work(part, { do: letter === "l" ? "lock" : "off" })
    if (part.locked) { this.words.textContent = `${part.id} is locked. Press L to unlock it.`; return }
    if (!part.moving) this.remember(part)
    part.moving = "keys"
    if (steps) {
      const far = KEYS[shift ? 1 : 0]
      part.x += far * steps[0]
      part.y += far * steps[1]
    } else this.turn(part)
    this.lay(part)
    await this.check(part)
    clearTimeout(this.resting)
    this.resting = setTimeout(() => this.next(() => this.settle(part, false)), REST)
  }

  // Put down a part that keys have moved; where it may not lie, it waits, or goes back.
  async settle(part, leaving) {
    clearTimeout(this.resting)
    if (part.moving !== "keys" || this.parts.get(part.id) !== part) return
    if (part.node.classList.contains("bad") && !leaving) return
    part.moving = null
    await this.place(part)
  }

  // Where a part's middle is from its origin, as it is turned.
  middle(part) {
    const [x0, y0, x1, y1] = part.box
    const [cx, cy] = [(x0 + x1) / 2, ((y0 + y1) / 2) * (part.mirror ? -1 : 1)]
    const angle = part.turn + part.turns * part.step
    const [c, s] = [Math.cos(angle), Math.sin(angle)]
    return [c * cx - s * cy, s * cx + c * cy]
  }

  // Turn a part about its middle by its least turn: a strap end for end.
  turn(part) {
    const before = this.middle(part)
    part.turns += 1
    const after = this.middle(part)
    part.x += before[0] - after[0]
    part.y += before[1] - after[1]
  }

  remember(part) { part.before = { x: part.x, y: part.y, hide: part.hide, turn: part.turn, turns: part.turns, mirror: part.mirror } }

  back(part) {
    clearTimeout(this.resting)
    Object.assign(part, part.before, { moving: null })
    part.node.classList.remove("bad", "held")
    if (!part.hide) { part.node.remove(); return }
    const view = this.views.get(part.hide)
    if (part.node.parentNode !== view) view.append(part.node)
    this.lay(part)
    if (this.chosen === part.id && document.activeElement === document.body) part.node.focus({ preventScroll: true })
  }

  move(part) { return { digest: this.digest, part: part.id, hide: part.hide, turns: part.turns, x: part.x, y: part.y } }

  async check(part) {
    if (!part.moving) return
    const found = await send(`${this.url}/check`, this.move(part))
    if (!found || !part.moving) return
    part.node.classList.toggle("bad", found.faults.length > 0)
    this.lay(part)
    this.words.textContent = found.faults.length ? `✕ ${found.faults[0]}` : `✓ ${part.id} may lie here.`
  }

  async place(part) {
    if (this.parts.get(part.id) !== part) return // drawn anew meanwhile
    const found = await send(`${this.url}/place`, this.move(part))
    if (!found || found.faults.length) {
      this.back(part)
      if (found) this.words.textContent = `✕ ${part.id} stays where it was: ${found.faults[0]}`
      return
    }
    this.redraw(part, found, `${part.id} lies there now. ${this.usual}`, "moved")
  }

  // Ask for something to be done with a part, and draw what comes of it.
  async keep(part, what, data, words) {
    const found = await send(`${this.url}/${what}`, { digest: this.digest, part: part.id, ...data })
    if (found) this.redraw(part, found, words, what)
  }

  redraw(part, found, words, step) {
    this.draw(found)
    const now = this.parts.get(part.id)
    const there = now.hide ? now.node : this.tray.querySelector(`[data-tray="${CSS.escape(part.id)}"]`)
    there?.focus({ preventScroll: true })
    this.words.textContent = words
    this.undoable(`${part.id}: ${step}`)
  }

  undoable(words) {
    const undo = document.getElementById("undo")
    undo.disabled = false
    undo.title = words
  }

  lock(part) {
    const words = part.locked ? `${part.id} is free to be moved.` : `${part.id} is locked: it stays when the search goes on.`
    return this.keep(part, "lock", { locked: !part.locked }, words)
  }
}

// Layouts side by side: their pictures, drawn from places.
export function watchLayouts() {
  document.body.addEventListener("htmx:afterSwap", (event) => {
    for (const box of event.target.querySelectorAll("[data-layout-picture]")) drawKept(box)
  })
  document.body.addEventListener("htmx:load", (event) => {
    const box = document.querySelector(".other-layouts")
    if (event.target === document.body && box?.open) window.htmx.trigger(box, "toggle") // opened before this was ready
  })
}

async function drawKept(box) {
  const found = await (await fetch(box.dataset.layoutPicture)).json()
  if (found.wrong) return
  const views = new Map(found.hides.map((hide) => [hide.name, hideView(hide, found.zones)]))
  for (const part of found.parts) {
    views.get(part.hide).append(partShape(part))
    lay(part)
  }
  box.replaceChildren(...found.hides.map((hide) => {
    const holder = document.createElement("figure")
    const name = document.createElement("figcaption")
    name.textContent = `${hide.name} · ${percent(hide.yield)} used`
    holder.append(name, views.get(hide.name))
    return holder
  }))
}
