// Lengths as the house has them, in mm or inches; inside, and in what is sent, all is mm.
const INCH = 25.4
const FINEST = 64
const NUMBER = /^([-+]?)(?:(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*\/\s*(\d+)|(\d+(?:[.,]\d*)?|[.,]\d+))\s*(mm|cm|in|"|″)?$/

export const units = document.querySelector("[data-units]")?.dataset.units ?? "mm"
export const inches = units === "in"
export const example = inches ? "12 1/4" : "300"

// What a drawing rounds to, mm: taps seen from afar and from near, what the arrow keys move by, a new round flaw.
export const AFAR = inches ? INCH / 4 : 5
export const NEAR = inches ? INCH / 16 : 1
export const KEYS = inches ? [NEAR, INCH / 2] : [1, 10]
export const ROUND = inches ? 1.25 * INCH : 30

// Squares of a grid, mm, each with how many there are between two bold lines.
export const SQUARES = inches
  ? [[0.125, 8], [0.5, 2], [1, 12], [6, 2], [12, 5], [60, 2]].map(([side, many]) => [side * INCH, many])
  : [[1, 5], [5, 2], [10, 5], [50, 5], [100, 5], [500, 5], [1000, 5], [5000, 5]]

const trimmed = (value, digits) => String(Number(value.toFixed(digits)))

// Off the last digits that are no longer the length but the arithmetic.
export const exact = (mm) => Number(mm.toFixed(6))
export const nearest = (mm, step) => exact(Math.round(mm / step) * step)

// A length without its unit: inches as a fraction where they are one, else as a decimal.
export function shown(mm) {
  if (!inches) return trimmed(mm, 2)
  const parts = Math.round(Math.abs(mm) / INCH * FINEST)
  if (Math.abs(parts * INCH / FINEST - Math.abs(mm)) > 0.0005) return trimmed(mm / INCH, 3)
  let [over, under] = [parts % FINEST, FINEST]
  while (over && over % 2 === 0) [over, under] = [over / 2, under / 2]
  const whole = Math.floor(parts / FINEST)
  const words = [...(whole || !over ? [whole] : []), ...(over ? [`${over}/${under}`] : [])].join(" ")
  return mm < 0 && parts ? `-${words}` : words
}

// A length that was typed, in mm: a bare number is the house's; null for what is none.
export function read(text) {
  const found = NUMBER.exec(text.trim())
  if (!found) return null
  const [, sign, whole, over, under, decimal, given] = found
  const metric = given ? given === "mm" || given === "cm" : !inches
  if (over && (metric || !Number(under))) return null
  const number = over ? Number(whole ?? 0) + Number(over) / Number(under) : Number(decimal.replace(",", "."))
  const mm = number * (given === "cm" ? 10 : metric ? 1 : INCH)
  return Number.isFinite(mm) ? exact(sign === "-" ? -mm : mm) : null
}

// A cell that keeps its own words: shown in inches where the house is, and written with the unit that was meant.
export const cellShown = (text) => {
  const mm = inches ? read(/\d$/.test(text) ? `${text} mm` : text) : null
  return mm === null ? text : `${shown(mm)} in`
}
export const cellTyped = (text) => inches && /\d$/.test(text.trim()) ? `${text.trim()} in` : text
