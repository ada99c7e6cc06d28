// Puts the four corners of a board right in its photo: handles that are dragged, or moved by keys and buttons; a tap
// into the photo brings the chosen corner there. Beside the corner a piece of the photo is shown from close.
import { made } from "./progress.js"
import { say } from "./words.js"

const AWAY = 44 // pixels of the screen between a corner and its handle
const CLOSE = 5 // times that the piece is shown larger than the photo beside it
const STEP = 1 / 2000 // of the photo's longer side, for one press
const FAST = 20

export function dragCorners(form) {
  const cols = +form.dataset.cols
  const rows = +form.dataset.rows
  const step = Math.max(1, Math.round(Math.max(cols, rows) * STEP))
  const stage = form.querySelector(".stage")
  const sheet = form.querySelector(".sheet")
  const photo = sheet.querySelector("img")
  const grid = sheet.querySelector("svg")
  const loupe = form.querySelector("[data-loupe]")
  const nudges = form.querySelector("[data-nudges]")
  const told = form.querySelector("[data-told]")
  const corners = [...form.querySelectorAll("[data-corner]")].map((field, number) => {
    const words = field.querySelector("legend").textContent
    const handle = made("button", "handle", String(number + 1))
    handle.type = "button"
    handle.ariaLabel = words
    stage.append(handle)
    const stem = document.createElementNS(grid.namespaceURI, "path")
    stem.setAttribute("class", "stem")
    grid.append(stem)
    const [col, row] = field.querySelectorAll("input")
    return { words, handle, stem, col, row }
  })
  let chosen = 0

  const place = ({ col, row }) => [+col.value || 0, +row.value || 0]

  function put(number, x, y) {
    corners[number].col.value = Math.round(Math.min(Math.max(x, 0), cols - 1))
    corners[number].row.value = Math.round(Math.min(Math.max(y, 0), rows - 1))
    show()
  }

  function choose(number) {
    chosen = number
    loupe.hidden = false
    show()
  }

  function show() {
    if (!sheet.clientWidth) return // not laid out yet
    const scale = sheet.clientWidth / cols
    const [left, top] = [sheet.offsetLeft, sheet.offsetTop]
    const places = corners.map(place)
    grid.querySelectorAll("polygon").forEach((one) => one.setAttribute("points", places.join(" ")))
    corners.forEach(({ handle, stem }, number) => {
      const [x, y] = places[number]
      const [off, down] = away(places[3 - number], places[number])
      const hold = [
        within(24, left + x * scale + off * AWAY, stage.clientWidth - 24),
        within(24, top + y * scale + down * AWAY, stage.clientHeight - 24),
      ]
      handle.style.left = `${hold[0]}px`
      handle.style.top = `${hold[1]}px`
      handle.ariaPressed = number === chosen
      stem.setAttribute("d", `M${x} ${y}L${(hold[0] - left) / scale} ${(hold[1] - top) / scale}`)
    })
    const [x, y] = places[chosen]
    told.textContent = say("{corner}: {column} from the left, {row} from the top", {
      corner: corners[chosen].words, column: x, row: y,
    })
    if (!loupe.hidden) look(places, scale, left, top)
  }

  // Shown toward the middle of the board, where neither finger nor handle is.
  function look(places, scale, left, top) {
    const [x, y] = places[chosen]
    const [off, down] = away([x, y], places[chosen ^ 1])
    const size = loupe.offsetWidth
    const far = size / 2 + 40
    loupe.style.left = `${within(0, left + x * scale + off * far - size / 2, stage.clientWidth - size)}px`
    loupe.style.top = `${within(0, top + y * scale + down * far - size / 2, stage.clientHeight - size)}px`
    const pen = loupe.getContext("2d")
    const piece = size / CLOSE / scale // pixels of the photo across it
    const own = photo.naturalWidth / cols
    const times = loupe.width / piece
    pen.fillStyle = "#777"
    pen.fillRect(0, 0, loupe.width, loupe.height)
    pen.drawImage(photo, (x - piece / 2) * own, (y - piece / 2) * own, piece * own, piece * own, 0, 0, loupe.width, loupe.height)
    for (const [colour, width] of [["#fff", 6], ["#0a4a94", 2.5]]) {
      pen.strokeStyle = colour
      pen.lineWidth = width
      pen.beginPath()
      places.forEach(([col, row], number) => {
        pen[number ? "lineTo" : "moveTo"]((col - x + piece / 2) * times, (row - y + piece / 2) * times)
      })
      pen.closePath()
      pen.stroke()
    }
  }

  const keys = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }
  const move = ([x, y], by = step) => put(chosen, place(corners[chosen])[0] + x * by, place(corners[chosen])[1] + y * by)
  corners.forEach(({ handle, col, row }, number) => {
    handle.addEventListener("focus", () => choose(number))
    handle.addEventListener("keydown", (event) => {
      const way = keys[event.key]
      if (!way || event.ctrlKey || event.metaKey || event.altKey) return
      event.preventDefault()
      move(way, event.shiftKey ? FAST * step : step)
    })
    let held = null // where the finger came down, and where the corner was
    handle.addEventListener("pointerdown", (event) => {
      if (event.button) return
      event.preventDefault()
      handle.focus({ preventScroll: true })
      handle.setPointerCapture(event.pointerId)
      held = { x: event.clientX, y: event.clientY, from: place(corners[number]) }
    })
    handle.addEventListener("pointermove", ({ clientX, clientY }) => {
      if (!held) return
      const scale = sheet.clientWidth / cols
      put(number, held.from[0] + (clientX - held.x) / scale, held.from[1] + (clientY - held.y) / scale)
    })
    for (const end of ["pointerup", "pointercancel"]) handle.addEventListener(end, () => (held = null))
    for (const field of [col, row]) field.addEventListener("input", () => choose(number))
  })
  sheet.addEventListener("click", (event) => {
    const box = sheet.getBoundingClientRect()
    put(chosen, ((event.clientX - box.left) / box.width) * cols, ((event.clientY - box.top) / box.height) * rows)
    choose(chosen)
  })
  nudges.addEventListener("click", ({ target }) => {
    const way = target.closest("[data-nudge]")?.dataset.nudge
    if (!way) return
    loupe.hidden = false
    move(way.split(" ").map(Number))
  })

  form.toggleAttribute("data-live", true)
  nudges.hidden = false
  photo.addEventListener("load", show)
  new ResizeObserver(show).observe(sheet)
  show()
}

const within = (least, value, most) => Math.min(Math.max(value, least), most)

// Which way it is from one place to another, as a step of length one.
function away([fromX, fromY], [toX, toY]) {
  const far = Math.hypot(toX - fromX, toY - fromY) || 1
  return [(toX - fromX) / far, (toY - fromY) / far]
}
