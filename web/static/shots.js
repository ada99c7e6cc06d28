// Sends a photo of a side as soon as it is taken or chosen, and tells beside it how far it is and what it is good for.
import { freshen } from "./fresh.js"
import { outbox } from "./outbox.js"
import { made } from "./progress.js"
import { watchReading } from "./read.js"
import { thumb, tooLarge } from "./thumbs.js"
import { say } from "./words.js"

const WORDS = {
  turn: say("Waits for the photos before it."),
  sending: say("Sending the photo."),
  checking: say("The photo has arrived. Looking whether it can be used."),
  signal: say("Waits for signal. The photo is kept on this phone and is sent by itself."),
  held: say("The photo is kept on this phone. It is sent once its board is mended."),
}

const UNOPENED = say("The photo could not be opened. Take it again, or choose another.")

export function sendShots(form) {
  if (form.isConnected) new Shot(form) // it may have been swapped while this script came
}

class Shot {
  #form
  #status
  #thumb
  #bar
  #about
  #shown = null // the key of the photo in the small picture

  constructor(form) {
    const { shot, adds } = form.dataset
    const { pathname, search } = new URL(form.action)
    this.#form = form
    this.#status = form.querySelector("[data-shot-status]")
    this.#thumb = form.querySelector("[data-shot-thumb]")
    this.#bar = progressBar(this.#status)
    this.#about = {
      board: form.closest("[data-board]").dataset.board,
      place: adds === undefined ? shot : `${shot} more`,
      action: pathname + search,
      words: wordsOf(form),
      takesInstead: Boolean(form.elements.instead),
    }
    form.querySelectorAll("[data-plain]").forEach((button) => (button.hidden = true))
    form.querySelectorAll("input[type=file]").forEach((input) => {
      input.required = false
      input.addEventListener("change", () => this.#choose(input))
      if (input.files.length) this.#choose(input) // chosen before this script had come
    })
    form.addEventListener("submit", (event) => event.preventDefault())
    outbox.addEventListener("change", () => this.#show())
    outbox.addEventListener("arrived", ({ detail: { note, answer } }) => {
      if (outbox.isOf(note, this.#about.board, this.#about.place)) this.#arrived(answer)
    })
    this.#show()
  }

  async #choose(input) {
    const files = [...input.files]
    const most = Number(input.dataset.photoBytes) || Infinity
    input.value = "" // so that the same photo can be chosen once more
    let instead = this.#form.dataset.adds === undefined
    for (const file of files) {
      if (file.size > most) {
        this.#put("again", tooLarge(file, most))
        continue
      }
      this.#put("keeping", say("Keeping the photo on this phone."))
      const added = outbox.add(this.#about, file, instead)
      await added.catch(() => this.#put("again", UNOPENED))
      instead = false
    }
  }

  // Shows the photo that is furthest, since they go one at a time.
  #show() {
    const notes = outbox.of(this.#about.board, this.#about.place)
    const note = notes.find((one) => outbox.stage(one) === "sending" || outbox.stage(one) === "checking") ?? notes[0]
    this.#bar.hidden = true
    if (!note) return this.#gone()
    const stage = outbox.stage(note)
    const more = notes.length > 1 ? ` ${say("{count} photos in all.", { count: notes.length })}` : ""
    const words = note.refused ? say("Not taken. {why}", { why: note.refused }) : (heldWords(note) ?? WORDS[stage]) + more
    this.#put(stage, words)
    this.#picture(note)
    if (stage === "sending") {
      this.#bar.hidden = false
      this.#bar.value = outbox.share(note)
    }
  }

  // Thrown away, or sent by another page of the app.
  #gone() {
    if (!this.#shown || !(this.#status.dataset.state in WORDS)) return
    this.#put("", "")
    this.#thumb.replaceChildren()
    freshen()
  }

  async #picture(note) {
    if (this.#shown === note.key) return
    this.#shown = note.key
    const photo = await outbox.picture(note)
    if (!photo || this.#shown !== note.key) return
    this.#thumb.replaceChildren(thumb(photo, say("{shot}: the photo on its way", { shot: this.#about.words })))
  }

  async #arrived({ check, reading }) {
    if (!this.#form.isConnected) return // another form of this place has taken its part
    this.#bar.hidden = true
    const [state, words] = checkWords(check)
    this.#put(state, words)
    this.#form.closest(".shot")?.classList.replace("empty", state)
    if (outbox.of(this.#about.board, this.#about.place).length === 0 && (await freshen())) this.#letGo()
    if (reading === "started") watchReading(document.querySelector("[data-board]"))
  }

  // The page now shows the kept photo and what it is good for; that was said already.
  #letGo() {
    const kept = document.querySelector(`[data-fresh="kept_${CSS.escape(this.#form.dataset.shot)}"] img`)
    if (!kept) return
    this.#thumb.replaceChildren()
    this.#status.className = "unseen"
  }

  #put(state, words) {
    this.#status.dataset.state = state
    this.#status.className = ""
    // Written only when new, so that a screen reader says each thing once.
    if (this.#status.textContent !== words) this.#status.textContent = words
  }
}

// Of a photo that the phone has no room for.
function heldWords(note) {
  if (!outbox.holds(note) || ["sending", "checking"].includes(outbox.stage(note))) return null
  return say("The phone has no room to keep this photo. Leave this page open until it is sent, or free some room.")
}

function checkWords(check) {
  const texts = (list) => list.map((one) => one.text).join(" ")
  if (!check) return ["good", say("The photo is kept.")]
  if (!check.usable) {
    return ["again", say("Take it again while the board is at hand. {why}", { why: texts(check.reasons) })]
  }
  const advice = texts(check.advice)
  return ["good", advice ? say("Good. To do better: {advice}", { advice }) : say("Good.")]
}

function progressBar(status) {
  const bar = made("progress")
  bar.max = 1
  bar.hidden = true
  bar.ariaLabel = say("Photo sent")
  status.after(bar)
  return bar
}

// Such as "Board 2, Face 1".
function wordsOf(form) {
  const board = form.closest("[data-board]").querySelector(".name")
  const shot = form.closest(".shot").querySelector("h3, h4")
  return [board, shot].map((one) => one?.textContent.trim()).filter(Boolean).join(", ")
}
