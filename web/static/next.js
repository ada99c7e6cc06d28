// The button at the thumb opens the camera for the shot it names, and goes on to the next one while that photo is on
// its way: a board is shot by pressing one place over and over.
import { outbox } from "./outbox.js"
import { say } from "./words.js"

export function shootNext(link) {
  const then = link.parentElement.querySelector("[data-then]") // what comes when all are on their way
  const show = () => {
    if (!link.isConnected) return outbox.removeEventListener("change", show)
    const shots = [...document.querySelector(link.hash).parentElement.querySelectorAll(".shot")]
    const open = shots.find((shot) => !shot.matches(".good") && !onItsWay(shot))
    if (then) {
      link.hidden = !open
      then.hidden = Boolean(open)
    }
    if (!open) return (link.textContent = say("The photos are on their way"))
    const { named: side } = open.querySelector("[data-shot]").dataset
    link.textContent = open.matches(".again") ? say("Take {side} again", { side }) : say("Photograph {side}", { side })
    link.hash = open.id
  }
  outbox.addEventListener("change", show)
  show()
  link.addEventListener("click", (event) => {
    const shot = document.querySelector(link.hash)
    if (onItsWay(shot) || !matchMedia("(pointer: coarse)").matches) return // it is shown then
    event.preventDefault()
    shot.scrollIntoView({ block: "center" })
    shot.querySelector("[capture]").click()
  })
}

function onItsWay(shot) {
  const { board } = shot.closest("[data-board]").dataset
  return outbox.of(board, shot.querySelector("[data-shot]").dataset.shot).some((note) => !note.refused)
}
