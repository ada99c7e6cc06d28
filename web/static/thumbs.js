// Shows the chosen photos small under their field and says when one is larger than the server takes.
export function showThumbs(field) {
  const input = field.querySelector("input[type=file]")
  const place = field.querySelector("[data-thumbs]")
  const show = () => {
    place.replaceChildren(...[...input.files].map((file, index) => thumb(file, `Chosen photo ${index + 1}`)))
    input.setCustomValidity(tooLarge(input))
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

function tooLarge(input) {
  const limit = Number(input.dataset.photoBytes)
  const large = [...input.files].find((file) => file.size > limit)
  return large ? `${large.name} is larger than ${Math.round(limit / 2 ** 20)} MB. Choose a smaller size.` : ""
}
