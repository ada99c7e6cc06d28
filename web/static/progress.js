// Tells under a form how far its work is, with a way to stop it; the focus follows what can be pressed.
import { say } from "./words.js"

export class Progress {
  #form
  #box = made("div", "progress")
  #words = made("p")
  #bar = made("progress")
  #stop
  #problem = made("p", "notice")

  constructor(form, stop, stopWords) {
    this.#form = form
    this.#stop = made("button", "button", stopWords)
    this.#words.ariaLive = "polite"
    this.#problem.role = "alert"
    this.#bar.max = 1
    this.#bar.ariaLabel = say("How far it is")
    this.#stop.type = "button"
    this.#stop.addEventListener("click", stop)
    this.#box.append(this.#words, this.#bar, this.#stop)
    this.#box.hidden = this.#problem.hidden = true
    form.append(this.#box, this.#problem)
  }

  // Whether the focus is at nothing else.
  get free() {
    return document.activeElement === document.body || this.#form.contains(document.activeElement)
  }

  work(words) {
    const { free } = this
    this.#button.disabled = true
    this.#box.hidden = false
    this.#problem.hidden = true
    this.step(words)
    this.#box.scrollIntoView({ block: "nearest" })
    if (free) this.#stop.focus({ preventScroll: true })
  }

  // Written only when new, so that a screen reader says each step once.
  step(words, share) {
    if (share === undefined) this.#bar.removeAttribute("value")
    else this.#bar.value = share
    if (words && this.#words.textContent !== words) this.#words.textContent = words
  }

  rest() {
    const moves = this.#box.contains(document.activeElement)
    this.#button.disabled = false
    this.#box.hidden = true
    if (moves) this.#button.focus({ preventScroll: true })
  }

  refuse(words) {
    this.rest()
    this.#problem.textContent = words
    this.#problem.hidden = false
  }

  get #button() {
    return this.#form.querySelector("button:not([type=button])")
  }
}

export function made(kind, look = "", words = "") {
  const element = document.createElement(kind)
  element.className = look
  element.textContent = words
  return element
}
