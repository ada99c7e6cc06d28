// Shows the chosen photos small under their field and says when one is larger than the server takes.
import { say } from "./words.js"

export function showThumbs(field) {
  const input = field.querySelector("input[type=file]")
  const place = field.querySelector("[data-thumbs]")
  const show = () => {
    const alt = (index) => say("Chosen photo {number}", { number: index + 1 })
    place.replaceChildren(...[...input.files].map((file, index) => thumb(file, alt(index))))
    const limit = Number(input.dataset.photoBytes)
    const large = [...input.files].find((file) => file.size > limit)
    input.setCustomValidity(large ? tooLarge(large, limit) : "")
  }
  input.addEventListener("change", show)
  show() // a browser may bring the choice back with the page
}

export function thumb(photo, alt) {
  const image = new Image()
  const address = URL.createObjectURL(photo)
  image.onload = () => URL.revokeObjectURL(address)
  image.onerror = () => {
    URL.revokeObjectURL(address)
    image.remove() // a kind of photo this browser cannot show, such as HEIC, may still be read
  }
  image.alt = alt
  image.src = address
  return image
}

export function tooLarge({ name }, bytes) {
  const megabytes = Math.round(bytes / 2 ** 20)
  return say("{photo} is larger than {megabytes} MB. Choose a smaller size.", { photo: name, megabytes })
}
