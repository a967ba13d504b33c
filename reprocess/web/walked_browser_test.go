package web

import (
	"flag"
	"fmt"
	"strings"
	"sync"
)

// walked are the rows of the site map whose page axe-core has examined in this run.
var walked sync.Map

// notWalked are the pages that no browser test opens, each with its reason.
var notWalked = map[string]string{
	"/labels/sheet.pdf":         "sends a file",
	"/label/:code/:file":        "sends a file",
	"/labels/slip/:id/slip.pdf": "sends a file",
	"/paper/enter":              "leads on to the kit's sheet",
}

// walkedAll demands after a whole run that a browser has been on every page of the site map, but
// for the few that are named. A run of some tests by name proves nothing about the others.
func walkedAll() bool {
	if run := flag.Lookup("test.run"); run == nil || run.Value.String() != "" {
		return true
	}
	left := unwalked()
	if len(left) > 0 {
		fmt.Println("no browser test examines", strings.Join(left, ", "))
	}
	return len(left) == 0
}

// unwalked lists the pages that were not examined, and named exceptions that are none.
func unwalked() []string {
	var left []string
	for _, r := range routes() {
		if r.Method != get || r.Page == "" {
			continue
		}
		_, seen := walked.Load(r.Path)
		_, excepted := notWalked[r.Path]
		if seen == excepted {
			left = append(left, r.Path)
		}
	}
	return left
}

// rowOf finds the page of the site map that an address belongs to, as the router does: the first
// row that fits, a part that is spelt out before a name.
func rowOf(path string) string {
	parts := strings.Split(path, "/")
	best, most := "", -1
	for _, r := range routes() {
		if r.Method != get || r.Page == "" {
			continue
		}
		row := strings.Split(r.Path, "/")
		fits := len(row) == len(parts)
		spelt := 0
		for i := range row {
			switch {
			case !fits:
			case strings.HasPrefix(row[i], ":"):
			case strings.EqualFold(row[i], parts[i]):
				spelt++
			default:
				fits = false
			}
		}
		if fits && spelt > most {
			best, most = r.Path, spelt
		}
	}
	return best
}
