// Looks at a side from close: the board moves under a cross in the middle of the frame, and the place there is read off.
import { say } from "./words.js"

const NEAREST = 0.2 // units of the drawing a pixel
const LABELS_TO = 1.7 // farther away than this the drawing's words would lie on one another
const CLOSER = 1.5
const TAP_PX = 8
const DOUBLE_MS = 350

export function lookClose(form) {
  const frame = form.querySelector(".frame")
  const moves = form.querySelector("[data-moves]")
  const told = form.querySelector("[data-told]")
  const svg = frame.querySelector("svg")
  const [length, across, left, top, scale] = ["length", "across", "left", "top", "scale"].map((name) => +form.dataset[name])
  const inches = form.dataset.units === "in"
  const step = inches ? { along: 6.35, up: 1.5875 } : { along: 5, up: 1 }
  const rows = [...document.querySelectorAll("[data-places] [data-mm]")]
  let at = +moves.dataset.at
  let below = +moves.dataset.above
  let unit = 1

  function show() {
    at = within(0, at, length)
    below = within(0, below, across)
    const { clientWidth: width, clientHeight: height } = frame
    unit = within(NEAREST, unit, Math.max(1, (length * scale) / width))
    const x = left + at * scale - (width * unit) / 2
    const y = top + below * scale - (height * unit) / 2
    svg.setAttribute("viewBox", `${x} ${y} ${width * unit} ${height * unit}`)
    svg.style.setProperty("--shrink", Math.min(1, unit))
    form.toggleAttribute("data-far", unit > LABELS_TO)
    const lines = [
      say("{along} from the marked end", { along: written(at, inches) }),
      say("{across} from the upper long corner", { across: written(below, inches) }),
      say("Grain: {grain}", { grain: grainAt(at) }),
    ]
    told.querySelectorAll("span").forEach((line, number) => (line.textContent = lines[number]))
  }

  function grainAt(place) {
    const far = (row) => Math.abs(row.dataset.mm - place)
    const row = rows.reduce((best, one) => (best && far(best) <= far(one) ? best : one), null)
    const cells = [...(row?.querySelectorAll("td") ?? [])].map((cell) => cell.textContent)
    return cells.filter(Boolean).join(", ") || say("could not be read here")
  }

  // Goes nearer or farther away; the place under the given point of the screen stays where it is.
  function zoom(times, { clientX, clientY } = middle()) {
    const { x, y } = middle().from(clientX, clientY)
    const before = unit
    unit = within(NEAREST, unit / times, Math.max(1, (length * scale) / frame.clientWidth))
    shift(x * (before - unit), y * (before - unit))
  }

  function middle() {
    const box = frame.getBoundingClientRect()
    const [clientX, clientY] = [box.left + box.width / 2, box.top + box.height / 2]
    return { clientX, clientY, from: (x, y) => ({ x: x - clientX, y: y - clientY }) }
  }

  function shift(x, y) { // in units of the drawing
    at += x / scale
    below += y / scale
    show()
  }

  const ways = {
    back: () => shift(-step.along * scale, 0),
    on: () => shift(step.along * scale, 0),
    up: () => shift(0, -step.up * scale),
    down: () => shift(0, step.up * scale),
    nearer: () => zoom(CLOSER),
    farther: () => zoom(1 / CLOSER),
    start: () => shift(-length * scale, 0),
    end: () => shift(length * scale, 0),
  }
  const keys = {
    ArrowLeft: "back", ArrowRight: "on", ArrowUp: "up", ArrowDown: "down", "+": "nearer", "=": "nearer", "-": "farther",
    Home: "start", End: "end",
  }
  frame.addEventListener("keydown", (event) => {
    const way = ways[keys[event.key]]
    if (!way || event.ctrlKey || event.metaKey || event.altKey) return
    event.preventDefault()
    way()
  })
  moves.addEventListener("click", (event) => ways[event.target.closest("[data-move]")?.dataset.move]?.())
  frame.addEventListener("wheel", (event) => {
    event.preventDefault()
    zoom(Math.exp(-event.deltaY / 400), event)
  }, { passive: false })
  form.addEventListener("click", (event) => {
    const jump = event.target.closest("[data-jump]")
    if (!jump || event.ctrlKey || event.metaKey) return
    event.preventDefault()
    at = +jump.dataset.jump
    show()
    frame.scrollIntoView({ block: "nearest" })
  })

  const fingers = new Map()
  let began = null // where and when the only finger came down
  let tapped = -Infinity
  frame.addEventListener("pointerdown", (event) => {
    if (event.button) return
    frame.setPointerCapture(event.pointerId)
    fingers.set(event.pointerId, event)
    began = fingers.size === 1 ? event : null
  })
  frame.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId)
    if (!before) return
    const other = [...fingers.values()].find((one) => one.pointerId !== event.pointerId)
    fingers.set(event.pointerId, event)
    const share = other ? 0.5 : 1 // two fingers carry the board together
    const [x, y] = [event.clientX - before.clientX, event.clientY - before.clientY]
    if (began && apart(began, event) > TAP_PX) began = null
    if (!began) shift(-x * unit * share, -y * unit * share)
    if (other) zoom(apart(event, other) / Math.max(1, apart(before, other)), halfway(event, other))
  })
  for (const ending of ["pointerup", "pointercancel"]) {
    frame.addEventListener(ending, (event) => {
      fingers.delete(event.pointerId)
      if (!began || ending === "pointercancel") return
      const again = event.timeStamp - tapped < DOUBLE_MS
      tapped = again ? -Infinity : event.timeStamp
      began = null
      if (again) return zoom(2 * CLOSER)
      const { x, y } = middle().from(event.clientX, event.clientY)
      shift(x * unit, y * unit)
    })
  }

  form.toggleAttribute("data-live", true)
  moves.hidden = false
  new ResizeObserver(show).observe(frame)
  show()
}

const within = (least, value, most) => Math.min(Math.max(value, least), most)
const apart = (one, other) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY)
const halfway = (one, other) => ({
  clientX: (one.clientX + other.clientX) / 2,
  clientY: (one.clientY + other.clientY) / 2,
})

// Inches to the nearest 1/16, or whole millimetres, as the server writes them.
function written(mm, inches) {
  if (!inches) return say("{mm} mm", { mm: Math.round(mm) })
  const parts = Math.round((mm / 25.4) * 16)
  const whole = Math.floor(parts / 16)
  let [rest, of] = [parts % 16, 16]
  while (rest && rest % 2 === 0) [rest, of] = [rest / 2, of / 2]
  const number = [...(whole || !rest ? [whole] : []), ...(rest ? [`${rest}/${of}`] : [])].join("-")
  return say("{inches} in", { inches: number })
}
