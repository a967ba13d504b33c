package web

import "handback/reprocess"

// deskRoutes are the rows of the counter, of the lists, and of the page for finders. Whatever
// fails on a row that answers the desk's question is "Cannot confirm".
func deskRoutes() []Route {
	back, out, view := acts(reprocess.ActReturn), acts(reprocess.ActIssue), acts(reprocess.ActView)
	after, bench := acts(reprocess.ActIssueAfter), acts(reprocess.ActStep)
	return []Route{
		{Method: get, Path: "/bench", Who: bench, Page: "bench", Sample: sampleBench, Handle: showBench,
			Place: "Bench", Question: "What is next on the bench?"},
		{Method: get, Path: "/take-in", Who: back, Page: "take-in", Sample: sampleTakeIn, Handle: showTakeIn,
			Place: "Take in", Question: "What has come in?"},
		{Method: post, Path: "/take-in", Who: back, Page: "take-in", Sample: sampleTakeIn, Handle: takeIn},
		{Method: post, Path: "/take-in/opened", Who: back, Page: "take-in", Sample: sampleTakeIn, Handle: openParcel},
		{Method: get, Path: "/sign", Who: acts(reprocess.ActRelease), Page: "sign", Sample: sampleSign,
			Handle: showSign, Place: "Sign", Question: "Which kits do you release?"},
		{Method: post, Path: "/sign", Who: acts(reprocess.ActRelease), Page: "sign", Sample: sampleSign, Handle: signList},

		{Method: get, Path: "/desk", Who: back, Page: "desk", Sample: sampleDesk, Handle: showDesk,
			Place: "Front desk", Question: "Is it released?", Unsure: true},
		{Method: post, Path: "/desk", Who: back, Page: "desk", Sample: sampleDesk, Handle: askDesk, Unsure: true},
		{Method: get, Path: "/desk/not-ours", Who: back, Page: "not-ours", Sample: sampleNotOurs, Handle: showNotOurs},
		{Method: post, Path: "/desk/not-ours", Who: back, Page: "not-ours", Sample: sampleNotOurs, Handle: takeNotOurs},
		{Method: get, Path: "/desk/kit/:kit", Who: back, Page: "desk-kit", Sample: sampleDeskKit,
			Handle: showDeskKit, Unsure: true},
		{Method: get, Path: "/desk/kit/:kit/back", Who: back, Page: "desk-kit", Sample: sampleDeskKit,
			Handle: showBack, Unsure: true},
		{Method: post, Path: "/desk/kit/:kit/back", Who: back, Page: "desk-kit", Sample: sampleDeskKit,
			Handle: takeBack, Unsure: true},
		{Method: get, Path: "/desk/kit/:kit/receipt", Who: back, Page: "receipt", Sample: sampleReceipt, Handle: showReceipt},
		{Method: get, Path: "/desk/kit/:kit/out", Who: out, Page: "out", Sample: sampleOut, Handle: showOut, Unsure: true},
		{Method: post, Path: "/desk/kit/:kit/out", Who: out, Page: "out", Sample: sampleOut, Handle: handOut, Unsure: true},
		{Method: get, Path: "/desk/kit/:kit/loan", Who: back, Page: "loan", Sample: sampleLoan, Handle: showLoan},
		{Method: post, Path: "/desk/kit/:kit/undo", Who: out, Page: "loan", Sample: sampleLoan, Handle: undoHandOut},
		{Method: post, Path: "/desk/kit/:kit/extend", Who: out, Page: "loan", Sample: sampleLoan, Handle: extendLoan},
		{Method: get, Path: "/desk/kit/:kit/after", Who: after, Page: "after", Sample: sampleAfter, Handle: showAfter},
		{Method: post, Path: "/desk/kit/:kit/after", Who: after, Page: "after", Sample: sampleAfter, Handle: handOutAfter},

		{Method: get, Path: "/ready", Who: back, Page: "ready", Sample: sampleReady, Handle: showReady,
			Place: "Ready", Question: "Which kits can go out?"},
		{Method: get, Path: "/overdue", Who: back, Page: "overdue", Sample: sampleOverdue, Handle: showOverdue},
		{Method: post, Path: "/overdue/wearer", Who: view, Page: "wearer", Sample: sampleWearer, Handle: lookUpWearer},

		{Method: get, Path: "/p/:code", Who: open, Page: "finder", Sample: sampleFinder, Handle: showPublic,
			Unsure: true, Bare: true},
	}
}
