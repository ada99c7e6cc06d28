// Marks a side's corners by hand in its only photo: each end is tapped in the whole picture, then its two corners in
// an enlarged piece of it, since a finger is wider than a board seen whole. The result is the text that the server
// takes, in pixels of the upright photo.
import { say } from "./words.js"

const STEPS = [
  { words: say("Tap the marked end of the board."), zoom: true },
  { words: say("Tap its upper corner (in an upright photo the left one)."), corner: 0 },
  { words: say("Tap its lower corner (in an upright photo the right one)."), corner: 3 },
  { words: say("Tap the far end of the board."), zoom: true },
  { words: say("Tap its upper corner (in an upright photo the left one)."), corner: 1 },
  { words: say("Tap its lower corner (in an upright photo the right one)."), corner: 2 },
]
const PIECE = 12 // an enlarged piece is this many times smaller than the photo's longer side

export function markCorners(button) {
  const field = button.closest("[data-photo-field]")
  const input = field.querySelector("input[type=file]")
  const value = field.querySelector("[data-corners-value]")
  const done = field.querySelector("[data-corners-done]")

  const set = (text) => {
    value.value = text
    value.disabled = !text
    done.hidden = !text
  }
  input.addEventListener("change", () => {
    set("") // corners belong to the photo they were marked in
    button.hidden = input.files.length !== 1
  })
  button.hidden = input.files.length !== 1
  set(value.value) // a form that was refused may bring corners along
  button.addEventListener("click", async () => {
    const photo = await createImageBitmap(input.files[0]).catch(() => null) // upright, as its notes say
    if (photo) new Marking(document.querySelector("[data-corners-dialog]"), photo, set)
    else button.hidden = true // a kind of photo this browser cannot show
  })
}

class Marking {
  #dialog
  #canvas
  #photo
  #finish
  #corners = []
  #step = 0
  #view

  constructor(dialog, photo, finish) {
    this.#dialog = dialog
    this.#canvas = dialog.querySelector("canvas")
    this.#photo = photo
    this.#finish = finish
    this.#canvas.onclick = (event) => this.#tap(event)
    dialog.querySelector("[data-corners-again]").onclick = () => this.#start()
    dialog.onclose = () => photo.close()
    dialog.showModal()
    this.#start()
  }

  #start() {
    this.#corners = []
    this.#step = 0
    this.#showWhole()
  }

  #tap(event) {
    const scale = this.#canvas.width / this.#canvas.clientWidth
    const col = this.#view.left + (event.offsetX * scale) / this.#view.scale
    const row = this.#view.top + (event.offsetY * scale) / this.#view.scale
    const step = STEPS[this.#step]
    this.#step += 1
    if (step.zoom) return this.#showPiece(col, row)
    this.#corners[step.corner] = `${Math.round(col)},${Math.round(row)}`
    if (this.#step === STEPS.length) return this.#end()
    if (STEPS[this.#step].zoom) this.#showWhole()
    else this.#draw(event.offsetX * scale, event.offsetY * scale)
  }

  #end() {
    this.#finish(this.#corners.join(" "))
    this.#dialog.close()
  }

  #showWhole() {
    const scale = Math.min(1600 / this.#photo.width, 1600 / this.#photo.height, 1)
    this.#show({ left: 0, top: 0, width: this.#photo.width, height: this.#photo.height, scale })
  }

  #showPiece(col, row) {
    const width = Math.max(this.#photo.width, this.#photo.height) / PIECE
    this.#show({ left: col - width / 2, top: row - width / 2, width, height: width, scale: 1000 / width })
  }

  #show(view) {
    this.#view = view
    this.#canvas.width = Math.round(view.width * view.scale)
    this.#canvas.height = Math.round(view.height * view.scale)
    this.#draw()
  }

  #draw(col, row) {
    const { left, top, width, height } = this.#view
    const pen = this.#canvas.getContext("2d")
    pen.drawImage(this.#photo, left, top, width, height, 0, 0, this.#canvas.width, this.#canvas.height)
    if (col !== undefined) cross(pen, col, row)
    this.#dialog.querySelector("[data-corners-words]").textContent = STEPS[this.#step].words
  }
}

// Light in dark, so that it is seen on any wood.
function cross(pen, col, row) {
  for (const [colour, width] of [["black", 9], ["white", 4]]) {
    pen.strokeStyle = colour
    pen.lineWidth = width
    pen.beginPath()
    pen.moveTo(col - 40, row)
    pen.lineTo(col + 40, row)
    pen.moveTo(col, row - 40)
    pen.lineTo(col, row + 40)
    pen.stroke()
  }
}
