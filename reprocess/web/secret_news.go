package web

import (
	"strings"

	"handback/reprocess"
)

// secretWords is a change of somebody's secret in words.
func secretWords(w *reprocess.World, ev reprocess.SecretSet) string {
	name := nameIn(w, ev.Person)
	switch {
	case ev.MAC == "":
		return "Secret of " + name + " ended, a one-time code made"
	case ev.Beside != "":
		return "Secret of " + name + " set with a one-time code, in a browser in which " +
			nameIn(w, ev.Beside) + " was signed in"
	case ev.Code:
		return "Secret of " + name + " set with a one-time code"
	}
	return "Secret of " + name + " set"
}

// besideOf is who is signed in in this browser while a code for somebody else is used in it.
func (v *Visit) besideOf(owner *reprocess.Person) string {
	if v.Person == nil || v.Person.ID == owner.ID {
		return ""
	}
	return v.Person.ID
}

// secretNews tells somebody what others did with their secret since they were last told; empty
// for nothing. Whoever holds a one-time code can use it, so its owner hears of each use.
func (v *Visit) secretNews(person string, told bool) (string, error) {
	list, err := v.Store().SecretNews(v.Context(), person, told)
	if err != nil || len(list) == 0 {
		return "", err
	}
	w, err := v.setUp()
	if err != nil {
		return "", err
	}
	var parts []string
	for _, e := range list {
		parts = append(parts, newsWords(w, e)+" on "+reprocess.Clock(e.At, v.Now.Zone)+phoneWords(w, e)+".")
	}
	return strings.Join(parts, " ") + " If you did not expect this, tell a supervisor at once.", nil
}

func newsWords(w *reprocess.World, e *reprocess.Entry) string {
	for _, b := range e.Events {
		ev, ok := b.Event.(reprocess.SecretSet)
		switch {
		case !ok:
		case ev.MAC == "":
			return e.Name + " ended your secret and made a one-time code"
		case ev.Beside != "":
			return "Your secret was set with a one-time code, in a browser in which " +
				nameIn(w, ev.Beside) + " was signed in,"
		default:
			return "Your secret was set with a one-time code"
		}
	}
	return "Your secret was changed"
}

// phoneWords says where a code was used; of a reset the phone says nothing to its owner.
func phoneWords(w *reprocess.World, e *reprocess.Entry) string {
	switch {
	case e.Act != reprocess.ActSecret:
		return ""
	case e.Phone == "":
		return ", not on an enrolled phone"
	}
	return ", on phone " + phoneName(w, e.Phone)
}
