package web

import (
	"slices"
	"strings"

	"handback/reprocess"
)

// seconds are the people who could sign beside this visitor so that the kit is released; the
// gate itself is asked for each.
func (x *view) seconds() []*reprocess.Person {
	var all []*reprocess.Person
	for _, p := range x.w.People {
		actor := x.v.Actor()
		actor.Second = p
		if reprocess.GateOpen(x.w, x.k, actor, x.v.Now) == nil {
			all = append(all, p)
		}
	}
	slices.SortFunc(all, func(a, b *reprocess.Person) int { return strings.Compare(a.Name+a.ID, b.Name+b.ID) })
	return all
}

// askSecond offers to sign beside the visitor where only that is missing.
func (p *releasePage) askSecond(x *view, why *reprocess.Problem) {
	if why == nil || why.Rule != "second_person" {
		return
	}
	c := Choices{Name: "second", Legend: "Who signs beside you?", Required: true}
	for _, who := range x.seconds() {
		c.Options = append(c.Options, Choice{Value: who.ID, Words: who.Name})
	}
	if len(c.Options) == 0 {
		return
	}
	c = c.Pick(x.v.Field("second"))
	p.Second, p.SecondSecret = &c, SecretField("second_secret", "Their own secret", "off")
}

// signBeside checks the second person's own secret, when one was chosen.
func (v *Visit) signBeside(actor reprocess.Actor) (reprocess.Actor, error) {
	id := v.Field("second")
	if id == "" {
		return actor, nil
	}
	if v.raw("second_secret") == "" {
		return actor, &reprocess.Problem{Code: reprocess.Forbidden, Rule: "signature",
			Text: "The second person has not signed.", Fix: "Let them enter their own secret."}
	}
	w, err := v.setUp()
	if err != nil {
		return actor, err
	}
	who := w.People[id]
	if who == nil {
		return actor, notFound("person")
	}
	if err := v.Store().CheckSecret(v.Context(), who.ID, v.raw("second_secret"), v.phone); err != nil {
		return actor, err
	}
	actor.Second = who
	return actor, nil
}

// Closed tells whether there is nothing to sign here.
func (p *releasePage) Closed() bool { return p.HasState && p.Second == nil }
