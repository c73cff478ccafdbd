// Layouts side by side: their pictures, drawn from places.
import { hideView, lay, partShape, percent } from "./hide_picture.mjs"

export function watchLayouts() {
  document.body.addEventListener("htmx:afterSwap", (event) => {
    for (const box of event.target.querySelectorAll("[data-layout-picture]")) draw(box)
  })
  document.body.addEventListener("htmx:load", (event) => {
    const box = document.querySelector(".other-layouts")
    if (event.target === document.body && box?.open) window.htmx.trigger(box, "toggle") // opened before this was ready
  })
}

async function draw(box) {
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
