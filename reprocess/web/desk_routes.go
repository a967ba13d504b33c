package web

import "handback/reprocess"

// deskRoutes are the rows of the counter, of the lists, and of the page for finders.
func deskRoutes() []Route {
	rows := append(append(listRoutes(), shelfRoutes()...), counterRoutes()...)
	rows = append(append(append(rows, wardRows()...), swapRows()...), missingRows()...)
	rows = append(rows, repairRows()...)
	return append(rows, Route{Method: get, Path: "/p/:code", Who: open, Page: "finder",
		Sample: sampleFinder, Handle: showPublic, Unsure: true, Bare: true})
}

// both gives the rows of a form: it is shown by get and sent by post.
func both(path string, who Who, page string, sample func() Page,
	show, act func(*Visit) error) []Route {
	return []Route{
		{Method: get, Path: path, Who: who, Page: page, Sample: sample, Handle: show},
		{Method: post, Path: path, Who: who, Page: page, Sample: sample, Handle: act},
	}
}

// as makes the first row a place.
func as(rows []Route, place, question string) []Route {
	rows[0].Place, rows[0].Question = place, question
	return rows
}

// scanning lets the pages of these rows use the camera.
func scanning(rows []Route) []Route {
	for i := range rows {
		rows[i].Camera = true
	}
	return rows
}

// unsureRows say "Cannot confirm" whatever fails on them.
func unsureRows(rows []Route) []Route {
	for i := range rows {
		rows[i].Unsure = true
	}
	return rows
}

// listRoutes are the bench, the intake, the list to sign, what is ready and what is overdue.
func listRoutes() []Route {
	back, release := acts(reprocess.ActReturn), acts(reprocess.ActRelease)
	rows := []Route{
		{Method: get, Path: "/bench", Who: acts(reprocess.ActStep), Page: "bench",
			Sample: sampleBench, Handle: showBench, Place: "Bench",
			Question: "What is next on the bench?"},
		{Method: post, Path: "/take-in/opened", Who: back, Page: "take-in",
			Sample: sampleTakeIn, Handle: openParcel},
		{Method: get, Path: "/ready", Who: back, Page: "ready", Sample: sampleReady,
			Handle: showReady, Place: "Ready", Question: "Which kits can go out?"},
		{Method: get, Path: "/overdue", Who: back, Page: "overdue", Sample: sampleOverdue,
			Handle: showOverdue},
		{Method: post, Path: "/overdue/wearer", Who: acts(reprocess.ActView), Page: "wearer",
			Sample: sampleWearer, Handle: lookUpWearer},
	}
	rows = append(rows, scanning(as(both("/take-in", back, "take-in", sampleTakeIn, showTakeIn,
		takeIn), "Take in", "What has come in?"))...)
	rows = append(rows, scanning(unsureRows(as(both("/scan", acts(reprocess.ActStep), "find",
		sampleScan, showScan, scan), "Scan", "Which kit is in my hand?")))...)
	return append(rows, as(both("/sign", release, "sign", sampleSign, showSign, signList),
		"Sign", "Which kits do you release?")...)
}

// counterRoutes answer the desk's question and take the acts that follow it.
func counterRoutes() []Route {
	back, out := acts(reprocess.ActReturn), acts(reprocess.ActIssue)
	const kit = "/desk/kit/:kit"
	rows := scanning(as(both("/desk", back, "find", sampleDesk, showDesk, askDesk),
		"Front desk", "Is it released?"))
	rows = append(rows, Route{Method: get, Path: kit, Who: back, Page: "desk-kit",
		Sample: sampleDeskKit, Handle: showDeskKit})
	rows = append(rows, both(kit+"/back", back, "desk-kit", sampleDeskKit, showBack, takeBack)...)
	rows = append(rows, both(kit+"/out", out, "out", sampleOut, showOut, handOut)...)
	rows = unsureRows(rows)
	rows = append(rows, both("/desk/not-ours", back, "not-ours", sampleNotOurs, showNotOurs,
		takeNotOurs)...)
	rows = append(rows, both(kit+"/after", acts(reprocess.ActIssueAfter), "after", sampleAfter,
		showAfter, handOutAfter)...)
	return append(rows,
		Route{Method: get, Path: kit + "/receipt", Who: back, Page: "receipt",
			Sample: sampleReceipt, Handle: showReceipt},
		Route{Method: get, Path: kit + "/loan", Who: back, Page: "loan", Sample: sampleLoan,
			Handle: showLoan},
		Route{Method: post, Path: kit + "/undo", Who: out, Page: "loan", Sample: sampleLoan,
			Handle: undoHandOut},
		Route{Method: post, Path: kit + "/extend", Who: out, Page: "loan", Sample: sampleLoan,
			Handle: extendLoan})
}
