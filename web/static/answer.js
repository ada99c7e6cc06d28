// Small helps on the page of an answer.

// Makes the way back lead to the form as it was left, photos included, when the answer came by script.
export function keepBack(link) {
  link.addEventListener("click", (event) => {
    if (!history.state?.answer) return
    event.preventDefault()
    history.back()
  })
}

// Saves the picture beside a button as a file. The picture is in the page already, so nothing is fetched.
export function savePicture(button) {
  const image = button.parentElement.querySelector("img")
  button.hidden = false
  button.addEventListener("click", () => {
    const link = document.createElement("a")
    link.href = image.src
    link.download = button.dataset.save
    link.click()
  })
}
