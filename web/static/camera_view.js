// A live picture with a guide for one shot after the other. Hints are worked out on the phone; they never keep the
// shutter from being pressed. A photo goes the way of one that was chosen; nothing else leaves the phone.
import { drawGuide } from "./camera_guide.js"
import { hasLight, openedCamera, setLight, takePhoto, troubleOf } from "./camera_photo.js"
import { greyOf, hintOf, look, movedBetween } from "./camera_sight.js"
import { made } from "./progress.js"
import { say } from "./words.js"

const LOOK_MS = 200
const SPOKEN_MS = 2000 // a screen reader is told no more often
const USUAL_THIN = 0.02 // a board of a store against its length, where its size is not known
let toldOfSharper = false

export async function openCamera(button) {
  await styled()
  new Viewfinder(button)
}

// The look of it is fetched with it.
function styled() {
  if (document.querySelector("link[href$='/camera.css']")) return null
  const link = made("link")
  link.rel = "stylesheet"
  link.href = "/static/camera.css"
  document.head.append(link)
  return new Promise((done) => (link.onload = link.onerror = done))
}

class Viewfinder {
  #form
  #wanted
  #camera = null
  #before = null
  #hints = []
  #spoken = 0
  #busy = false
  #taken = new Map() // what is written of each shot that was taken here
  #pen = made("canvas").getContext("2d", { willReadFrequently: true })
  #dialog = made("dialog", "camera")
  #title = made("h2")
  #video = made("video")
  #guide = document.createElementNS("http://www.w3.org/2000/svg", "svg")
  #roll = made("p", "camera-roll")
  #hint = made("p", "camera-hint")
  #voice = made("p", "unseen")
  #told = made("div", "camera-told")
  #sharper = made("p", "camera-note", say("The phone’s own camera takes sharper photos than this live picture."))
  #trouble = made("p", "notice")
  #shutter = pressed("shutter", say("Take the photo"), () => this.#take())
  #own = pressed("button", say("Use the phone’s own camera"), () => this.#useOwn())
  #light = pressed("button", say("Light"), () => this.#switchLight())

  constructor(button) {
    this.#build()
    this.#aim(button)
    this.#dialog.showModal()
    this.#shutter.focus()
    this.#start()
    const ticking = setInterval(() => this.#look(), LOOK_MS)
    const seen = () => (document.visibilityState === "visible" ? this.#start() : this.#stop())
    const left = () => {
      this.#stop() // at once: a page that is left may hear no more
      this.#dialog.close()
    }
    document.addEventListener("visibilitychange", seen)
    addEventListener("pagehide", left)
    this.#dialog.addEventListener("close", () => {
      clearInterval(ticking)
      document.removeEventListener("visibilitychange", seen)
      removeEventListener("pagehide", left)
      this.#stop()
      this.#dialog.remove()
      if (this.#form.isConnected) this.#form.querySelector("[data-camera]").focus()
    })
  }

  #build() {
    this.#title.id = "camera_title"
    this.#dialog.setAttribute("aria-labelledby", this.#title.id)
    Object.assign(this.#video, { muted: true, playsInline: true, autoplay: true })
    this.#video.addEventListener("resize", () => this.#draw())
    this.#guide.setAttribute("aria-hidden", "true")
    this.#hint.ariaHidden = "true" // said by the voice, not so often
    for (const one of [this.#voice, this.#told, this.#roll]) one.ariaLive = "polite"
    this.#trouble.role = "alert"
    this.#light.ariaPressed = "false"
    this.#sharper.hidden = this.#trouble.hidden = this.#own.hidden = this.#light.hidden = true
    const finder = made("div", "finder")
    finder.append(this.#video, this.#guide)
    const words = made("div", "camera-words")
    words.append(this.#title, this.#roll, this.#hint, this.#voice, this.#told, this.#sharper, this.#trouble, this.#own)
    const buttons = made("div", "camera-buttons")
    buttons.append(pressed("button", say("Close"), () => this.#dialog.close()), this.#shutter, this.#light)
    this.#dialog.append(finder, words, buttons)
    document.body.append(this.#dialog)
  }

  // Turns to a shot: its name, its guide, and no hint of the one before.
  #aim(button, roll = "") {
    this.#form = button.closest("[data-shot]")
    const { camera: kind, thin, least } = button.dataset
    this.#wanted = { kind, thin: Number(thin) || USUAL_THIN, known: Boolean(thin), least_px: Number(least) || 0 }
    this.#title.textContent = nameOf(this.#form)
    this.#roll.textContent = roll
    this.#hints = []
    this.#draw()
  }

  #draw() {
    const { videoWidth: width, videoHeight: height } = this.#video
    if (width) drawGuide(this.#guide, width, height, this.#wanted)
  }

  async #start() {
    if (this.#camera) return
    const camera = await openedCamera().catch((error) => this.#refuse(troubleOf(error)))
    if (!camera) return
    if (!this.#dialog.open || document.visibilityState !== "visible") return stopped(camera)
    this.#camera = camera
    this.#video.srcObject = camera.stream
    this.#light.hidden = !hasLight(camera)
    if (!camera.sharp && !toldOfSharper) this.#sharper.hidden = this.#own.hidden = false
    toldOfSharper ||= !camera.sharp
  }

  #stop() {
    if (this.#camera) stopped(this.#camera)
    this.#camera = this.#before = this.#video.srcObject = null
    this.#light.ariaPressed = "false"
  }

  #refuse(words) {
    this.#trouble.textContent = words
    this.#trouble.hidden = this.#own.hidden = false
    this.#own.focus()
  }

  #look() {
    const { videoWidth: width, videoHeight: height } = this.#video
    if (!this.#camera || !width || this.#busy) return
    const frame = greyOf(this.#video, width, height, this.#pen, this.#wanted)
    const moved_px = movedBetween(this.#before, frame)
    const hint = hintOf(look(frame, this.#wanted), moved_px, this.#wanted, this.#camera.photo_px)
    this.#before = frame
    this.#hints = [...this.#hints.slice(-1), hint]
    const [[before], [name, words]] = [this.#hints[0], hint]
    if (before !== name) return // seen twice, so that it does not flicker
    this.#dialog.dataset.hint = name
    if (this.#hint.textContent !== words) this.#hint.textContent = words
    if (this.#voice.textContent === words || performance.now() - this.#spoken < SPOKEN_MS) return
    this.#voice.textContent = words
    this.#spoken = performance.now()
  }

  async #take() {
    if (!this.#camera || this.#busy) return
    this.#busy = true
    this.#shutter.ariaDisabled = "true"
    const form = this.#form
    const photo = await takePhoto(this.#camera, this.#video).catch(() => null)
    this.#busy = false
    this.#shutter.ariaDisabled = "false"
    if (!photo) return this.#refuse(say("The photo could not be taken. Try again, or use the phone’s own camera."))
    this.#trouble.hidden = this.#sharper.hidden = this.#own.hidden = true
    navigator.vibrate?.(40)
    this.#watch(form)
    give(form, photo)
    this.#goOn(form)
  }

  // Writes what becomes of a photo as its own place on the page tells it.
  #watch(form) {
    if (this.#taken.has(form)) return this.#told.prepend(this.#taken.get(form))
    const line = made("p")
    const words = made("span")
    const again = pressed("button quiet", say("Take it again"), () => {
      this.#aim(form.querySelector("[data-camera]"), say("Turn it back: {side} up.", { side: nameOf(form) }))
      this.#shutter.focus()
    })
    const status = form.querySelector("[data-shot-status]")
    const write = () => {
      words.textContent = say("{side}: {words}", { side: nameOf(form), words: status.textContent })
      line.hidden = !status.textContent
      const bad = ["again", "refused"].includes(status.dataset.state)
      line.className = bad ? "again" : ""
      again.hidden = !bad
    }
    line.append(words, again)
    this.#told.prepend(line)
    this.#taken.set(form, line)
    const observer = new MutationObserver(write)
    observer.observe(status, { childList: true, characterData: true, subtree: true, attributes: true })
    this.#dialog.addEventListener("close", () => observer.disconnect())
    write()
  }

  // After a side comes the next one that is open; after anything else nothing has to follow.
  #goOn(form) {
    const list = form.closest(".shots")
    if (!list.querySelector(".roll")) return (this.#roll.textContent = say("Taken. Close this, or take it once more."))
    const forms = [...list.querySelectorAll("[data-shot]")]
    const open = (one) => !this.#taken.has(one) && !one.closest(".shot").matches(".good")
    const here = forms.indexOf(form)
    const turns = [1, 2, 3].find((by) => open(forms[(here + by) % forms.length]))
    if (!turns) return (this.#roll.textContent = say("All sides are taken. Close this."))
    const next = forms[(here + turns) % forms.length]
    const words = [
      say("Roll it a quarter turn away from you. Next: {side}.", { side: nameOf(next) }),
      say("Roll it two quarter turns away from you. Next: {side}.", { side: nameOf(next) }),
      say("Roll it a quarter turn toward you. Next: {side}.", { side: nameOf(next) }),
    ]
    this.#aim(next.querySelector("[data-camera]"), words[turns - 1])
  }

  #useOwn() {
    this.#dialog.close()
    this.#form.querySelector("[capture]").click()
  }

  async #switchLight() {
    const on = this.#light.ariaPressed !== "true"
    await setLight(this.#camera, on).then(
      () => (this.#light.ariaPressed = String(on)),
      () => (this.#light.hidden = true)
    )
  }
}

function pressed(look, words, act) {
  const button = made("button", look, words)
  button.type = "button"
  button.addEventListener("click", act)
  return button
}

const stopped = ({ stream }) => stream.getTracks().forEach((track) => track.stop())

const nameOf = (form) => form.closest(".shot").querySelector("h3, h4").textContent.trim()

function give(form, photo) {
  const files = new DataTransfer()
  files.items.add(new File([photo], `${form.dataset.shot}.jpg`, { type: photo.type || "image/jpeg" }))
  const input = form.querySelector("[capture]")
  input.files = files.files
  input.dispatchEvent(new Event("change", { bubbles: true }))
}
