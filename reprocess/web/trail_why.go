package web

import (
	"encoding/json"
	"strings"
	"unicode"

	"handback/reprocess"
)

// foundBy says why each row is in the list where its sentences do not say it themselves: the lot
// or container that the entry names, the text in which a word stands.
func (f trailFilter) foundBy(list []*reprocess.Entry, rows []trailRow) {
	for i := range rows {
		seen := small(strings.Join(append(rows[i].Lines, rows[i].Refused, rows[i].Who, rows[i].Kit), "\n"))
		var why []string
		for _, x := range []struct{ what, name string }{{"lot", f.Lot}, {"container", f.Container}} {
			if x.name != "" && !strings.Contains(seen, small(x.name)) {
				why = append(why, "Names "+x.what+" "+x.name+".")
			}
		}
		var texts []string
		for _, word := range strings.Fields(f.Words) {
			if strings.Contains(seen, small(word)) {
				continue
			}
			if texts == nil {
				texts = textsOfEntry(list[i])
			}
			if text := shortestWith(texts, word); text != "" {
				line := "Holds “" + around(text, word) + "”."
				why, seen = append(why, line), seen+"\n"+small(line)
			}
		}
		rows[i].Why = strings.Join(why, " ")
	}
}

func small(text string) string { return strings.Map(unicode.ToLower, text) }

// textsOfEntry are the texts of an entry that a search goes through.
func textsOfEntry(e *reprocess.Entry) []string {
	e2 := *e
	e2.Boot, e2.Key, e2.KitPrev = "", "", ""
	body, err := json.Marshal(e2)
	var whole any
	if err == nil {
		err = json.Unmarshal(body, &whole)
	}
	if err != nil {
		return nil // it was read from JSON; and the list is right without the remark
	}
	var all []string
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case string:
			all = append(all, v)
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			for _, x := range v {
				walk(x)
			}
		}
	}
	walk(whole)
	return all
}

// shortestWith is the shortest text with a word in it; of several the first by the alphabet.
func shortestWith(texts []string, word string) (best string) {
	for _, text := range texts {
		if !strings.Contains(small(text), small(word)) {
			continue
		}
		if best == "" || len(text) < len(best) || len(text) == len(best) && text < best {
			best = text
		}
	}
	return best
}

// aroundRunes is how much of a long text is shown on either side of a word.
const aroundRunes = 30

// around is a text, or of a long one the part about a word.
func around(text, word string) string {
	runes := []rune(text)
	if len(runes) <= 2*aroundRunes {
		return text
	}
	at := len([]rune(small(text)[:strings.Index(small(text), small(word))]))
	from, to := max(0, at-aroundRunes), min(len(runes), at+len([]rune(word))+aroundRunes)
	part := string(runes[from:to])
	if from > 0 {
		part = "…" + part
	}
	if to < len(runes) {
		part += "…"
	}
	return part
}
