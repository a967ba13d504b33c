package main

import (
	"fmt"
	"html"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// The clinic of the scripted week: 60 kits, six people, two phones of glass and some browsers
// without script for whoever works beside them. All of it is invented.

// weekStart is Monday, 23 November 2026, half past seven in the morning.
var weekStart = time.Date(2026, 11, 23, 7, 30, 0, 0, time.UTC)

// week is the clinic with its kits 101 to 160: 101 to 130 are out, 131 to 150 were ready on paper
// when Handback began, 151 to 160 lie in the dirty box.
type week struct {
	*dayClinic
	codes         map[string]string // labels of recorders by pool number
	learner, ines string            // ids of Lena, who learns, and of Ines, infection control

	ada, milo, lena, dario, sunniva, inf *worker
	bench, desk                          *phone // the two phones of glass
	lens                                 *lens  // looks at what anybody opens
	script                               []line // what the script did, for the trail
	year                                 string // the year as it was shown on Friday
	counted                              time.Time
}

// line is one act of the script: what was done to which kit, empty for none.
type line struct {
	act    reprocess.Act
	number string
}

// did notes acts of the script on kits; the trail has to hold exactly these.
func (w *week) did(act reprocess.Act, numbers ...string) {
	for _, number := range numbers {
		w.script = append(w.script, line{act, number})
	}
}

func newWeek(t testing.TB) *week {
	t.Helper()
	w := &week{dayClinic: &dayClinic{t: t, clock: &dayClock{}, kits: map[string]string{},
		dir: filepath.Join(t.TempDir(), "week")}, codes: map[string]string{}}
	w.clock.step(weekStart.Sub(dayStart))
	w.open()
	w.dayClinic.people()
	w.supplies()
	var learns []reprocess.Competence
	for _, id := range w.procedures {
		learns = append(learns, reprocess.Competence{Procedure: id, From: "2026-11-01", Learning: true})
	}
	w.learner = w.person(reprocess.Person{Name: "Lena Fisk", SignIn: "lena", Competences: learns,
		Roles: []reprocess.Role{reprocess.RoleReprocessing}}, dayPIN)
	w.ines = w.person(reprocess.Person{Name: "Ines Vold", SignIn: "ines",
		Roles: []reprocess.Role{reprocess.RoleInfection}}, dayPassword)
	w.pool()
	w.signedIn()
	return w
}

// signedIn gives everybody a browser; two of them are phones of glass.
func (w *week) signedIn() {
	in := dayBrowser(w.t)
	w.lens = w.newLens(in)
	w.ada, w.milo = w.at("ada", dayPassword), w.at("milo", dayPIN)
	w.lena, w.dario = w.at("lena", dayPIN), w.at("dario", dayPIN)
	w.sunniva, w.inf = w.at("sunniva", dayPassword), w.at("ines", dayPassword)
	w.bench, w.desk = w.phone(in, "ada"), w.phone(in, "dario")
	w.bench.signIn("ada", dayPassword)
	w.desk.signIn("dario", dayPIN)
}

// pool registers the kits with their opening balances and gives each recorder a label.
func (w *week) pool() {
	w.t.Helper()
	for n := 101; n <= 160; n++ {
		number := fmt.Sprint(n)
		r := reprocess.RegisterKit{Number: number, Place: "dirty box",
			Recorder: reprocess.NewPiece{Model: w.model[0], Serial: "R-" + number},
			Phone:    &reprocess.NewPiece{Model: w.model[1], Serial: "F-" + number}}
		switch {
		case n <= 130:
			r.Place, r.Opening = "", w.outSince(number, n)
		case n <= 150:
			r.Place, r.Opening = "shelf A", &reprocess.Opening{Ready: "2026-12-11"}
		}
		w.kits[number] = w.must(r).Events[0].Event.(reprocess.KitRegistered).Kit.ID
		w.codes[number] = w.labelled(number)
	}
}

// outSince is the opening balance of a kit with a wearer; the first ten are overdue.
func (w *week) outSince(number string, n int) *reprocess.Opening {
	w.t.Helper()
	wearer, err := w.store.WearerToken(w.t.Context(), "A-"+number)
	require.NoError(w.t, err)
	due := reprocess.Date("2026-11-24")
	if n <= 110 {
		due = "2026-11-19"
	}
	return &reprocess.Opening{Out: "2026-11-05", Due: due, Days: 14, Wearer: wearer}
}

// until moves the clock on to a time of the week: day 1 is Monday.
func (w *week) until(day, hour, minute int) {
	w.t.Helper()
	at := time.Date(2026, 11, 22+day, hour, minute, 0, 0, time.UTC)
	ahead := at.Sub(w.clock.Now().UTC.Time())
	require.GreaterOrEqual(w.t, ahead, time.Duration(0), "the week runs late: %s", at)
	w.clock.step(ahead)
}

// person at work in a browser without script; who was idle signs in again.
type worker struct {
	*plainBrowser
	name, secret string
}

// at is somebody who has signed in.
func (w *week) at(name, secret string) *worker {
	w.t.Helper()
	b := &worker{w.plain(), name, secret}
	b.after = w.lens.after
	b.enrol(name, secret)
	return b
}

// open opens a page, and signs in where it asks for that.
func (b *worker) open(path string) {
	b.day.t.Helper()
	b.plainBrowser.open(path)
	if strings.Contains(b.body, "Who are you?") {
		b.stands("Sign in", "name", b.name, "secret", b.secret)
		b.plainBrowser.open(path)
	}
}

var aLink = regexp.MustCompile(`(?s)<a [^>]*?href="([^"]*)"[^>]*>(.*?)</a>`)

// follow goes where the first link with these words leads.
func (b *worker) follow(words string) {
	b.day.t.Helper()
	for _, m := range aLink.FindAllStringSubmatch(b.body, -1) {
		said := strings.TrimSpace(html.UnescapeString(aTag.ReplaceAllString(m[2], "")))
		if strings.HasPrefix(said, words) {
			to, err := b.at.Parse(html.UnescapeString(m[1]))
			require.NoError(b.day.t, err)
			b.open(to.RequestURI())
			return
		}
	}
	require.Failf(b.day.t, "no such link", "%q on\n%s", words, b.words())
}

// see opens a page on a phone of glass, and signs in where it asks for that.
func (w *week) see(p *phone, path string) {
	w.t.Helper()
	p.open("http://" + w.addr + path)
	if strings.Contains(p.title(), "Who are you?") {
		secret := dayPassword
		if p.who == "dario" {
			secret = dayPIN
		}
		p.signIn(p.who, secret)
		p.open("http://" + w.addr + path)
	}
}

// routine takes one kit from the first look to the release, as the page offers it.
func (w *week) routine(b *worker, number string) {
	w.t.Helper()
	w.toInspection(b, number)
	w.fromInspection(b, number)
}

func (w *week) toInspection(b *worker, number string) {
	w.t.Helper()
	b.open("/d/" + w.codes[number])
	b.stands("It has arrived; old cell out")
	w.toDrying(b)
}

// toDrying cleans and disinfects both pieces, and lets them dry.
func (w *week) toDrying(b *worker) {
	w.t.Helper()
	b.stands("Both: visibly clean")
	w.wiped(b)
}

// wiped keeps both pieces wet for 65 s, 20 s of them after the tap.
func (w *week) wiped(b *worker) {
	w.t.Helper()
	b.stands("Both are wet now")
	w.clock.step(45 * time.Second)
	b.stands("Yes, both still look wet")
	b.stands("Both: fully dry")
}

func (w *week) fromInspection(b *worker, number string) {
	w.t.Helper()
	place := "shelf B"
	if number == "116" {
		place = "" // nobody says where it is put
	}
	w.toRelease(b, number)
	b.stands("Release kit "+number, "secret", dayPassword, "place", place)
	require.Contains(w.t, b.body, "<span>Released</span>")
	w.did(reprocess.ActRelease, number)
}

// toRelease goes on after the drying, up to the page that asks for the signature.
func (w *week) toRelease(b *worker, number string) {
	w.t.Helper()
	b.stands("Both: seals")
	b.stands("New cell from LR03", "a-charge", "93")
	b.stands("Both: last assignment ended")
	b.stands("Recorder: bench source")
	b.open("/d/" + w.codes[number])
	b.stands("Kit complete")
	b.open("/kit/" + w.kits[number] + "/release")
}

// stands presses a button and demands that it is not refused.
func (b *plainBrowser) stands(words string, pairs ...string) {
	b.day.t.Helper()
	b.press(words, pairs...)
	require.Equal(b.day.t, 200, b.status, "%s: %s", words, b.words())
}

// back takes a kit back at the desk.
func (w *week) back(desk *worker, number string, pairs ...string) {
	w.t.Helper()
	desk.open("/desk/kit/" + w.kits[number] + "/back")
	no := []string{"skin", "no", "fault", "no", "missing", "no"}
	desk.stands("Take back", append(no, pairs...)...)
	require.Contains(w.t, desk.body, "Taken back: kit "+number)
	w.did(reprocess.ActReturn, number)
}
