package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// TestNoTapIsLostOrCountedTwice: a double tap, a phone without network, an answer that is lost
// on its way, and two phones on one kit.
func TestNoTapIsLostOrCountedTwice(t *testing.T) {
	c := newDay(t)
	code := c.labelled("17")
	in := dayBrowser(t)
	c.must(reprocess.TakeBack{Kit: c.kits["17"], Return: reprocess.Return{Place: "dirty box"}})
	ada, milo := c.phone(in, "ada"), c.phone(in, "milo")
	ada.signIn("ada", dayPassword)
	milo.signIn("milo", dayPIN)
	address := "http://" + c.addr + "/d/" + code
	steps := func(n int) {
		t.Helper()
		require.Len(t, c.entries("17", reprocess.ActStep), n)
	}

	ada.scan(address)
	ada.twice("It has arrived; old cell out")
	ada.says("Visibly clean?")
	steps(1)

	milo.scan(address)
	milo.offline(true)
	milo.fold("Both: visibly clean")
	milo.notYetSaved("kit 17, ")
	milo.look("40-not-yet-saved")
	steps(1)
	c.clock.step(30 * time.Second)
	askPage[bool](milo, `document.documentElement.dataset.before = "1"; true`)
	milo.offline(false)
	milo.arrive() // sent by itself, and the page is asked for anew
	milo.says("Is the whole surface wet?")
	steps(2)

	ada.scan(address)
	ada.tap("Both are wet now")
	c.clock.step(60 * time.Second)
	ada.tap("Yes, both still look wet")
	ada.says("Fully dry?")
	c.line.lose(true)
	ada.fold("Both: fully dry")
	ada.notYetSaved("kit 17, ")
	steps(3) // it has arrived, only the answer was lost
	c.line.lose(false)
	askPage[bool](ada, `document.documentElement.dataset.before = "1";
		window.dispatchEvent(new Event("online")); true`)
	ada.arrive()
	ada.says("All sound?")
	steps(3)

	milo.scan(address)
	ada.tap("Both: seals")
	c.clock.step(20 * time.Second)
	milo.tap("Both: seals")
	milo.says("already done by Ada Lind at 08:06")
	milo.look("41-already-done")
	milo.says("New cell from LR03") // the next step, as it is offered to everybody
	steps(4)
}

// twice taps a button two times before any answer can come.
func (p *phone) twice(words string) {
	p.day.t.Helper()
	p.touchable(words)
	askPage[bool](p, `document.documentElement.dataset.before = "1";
		(b => { b.click(); b.click(); })(document.querySelector("[data-touch]")); true`)
	p.arrive()
}

// notYetSaved waits until the page says that a tap waits.
func (p *phone) notYetSaved(words string) {
	p.day.t.Helper()
	p.waitFor(`document.getElementById("outbox").innerText.includes("Not yet saved: ` + words + `")`)
}
