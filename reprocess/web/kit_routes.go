package web

import "handback/reprocess"

// kitRoutes are the rows of a kit's pages and of what a label opens.
func kitRoutes() []Route {
	rows := []Route{
		{Method: get, Path: "/d/:code", Who: open, Page: "label", Sample: sampleLabel, Handle: label, Unsure: true},
		{Method: get, Path: "/cautions", Who: signedIn, Page: "cautions", Sample: sampleCautions, Handle: showCautions},
		{Method: get, Path: "/kit/:id", Who: signedIn, Page: "kit", Sample: sampleKit, Handle: showKit, Unsure: true, Camera: true},
		{Method: post, Path: "/kit/:id/step", Who: acts(reprocess.ActStep), Page: "kit", Sample: sampleKit, Handle: recordStep, Camera: true},
		{Method: post, Path: "/kit/:id/wet", Who: acts(reprocess.ActWet), Page: "kit", Sample: sampleKit, Handle: wetNow},
		{Method: post, Path: "/kit/:id/look", Who: acts(reprocess.ActWet), Page: "kit", Sample: sampleKit, Handle: look},
		{Method: post, Path: "/kit/:id/undo", Who: acts(reprocess.ActUndo), Page: "kit", Sample: sampleKit, Handle: undoTap},
		{Method: post, Path: "/kit/:id/wait-end", Who: acts(reprocess.ActWaitEnd), Page: "kit", Sample: sampleKit, Handle: endWait},
		{Method: get, Path: "/kit/:id/release", Who: acts(reprocess.ActRelease), Page: "kit-release", Sample: sampleRelease, Handle: showRelease},
		{Method: post, Path: "/kit/:id/release", Who: acts(reprocess.ActRelease), Page: "kit-release", Sample: sampleRelease, Handle: releaseKit},
		{Method: get, Path: "/kit/:id/history", Who: signedIn, Page: "kit-history", Sample: sampleHistory, Handle: showHistory},
	}
	rows = append(rows, correctRoutes()...)
	for _, a := range smallActs() {
		path := "/kit/:id/" + a.path
		rows = append(rows,
			Route{Method: get, Path: path, Who: acts(a.act), Page: "kit-act", Sample: sampleAct, Handle: showSmallAct(a.path)},
			Route{Method: post, Path: path, Who: acts(a.act), Page: "kit-act", Sample: sampleAct, Handle: doSmallAct(a.path)})
	}
	return rows
}

// deskURL is the front desk's page for a kit.
func deskURL(kit, act string) string { return "/desk/kit/" + kit + "/" + act }

// sampleKit is the page in the middle of a disinfection.
func sampleKit() Page {
	p := &kitPage{Base: Titled("Not released: kit 17"), ID: "K18", Number: "17",
		Place: "Bench since 13:40, by Ada Okafor",
		State: HeldState("It is still being reprocessed: recorder next: disinfect, phone next: clean."),
		Tracks: []trackLine{{"Recorder", "wet now", "Cleaned. Ada Okafor, 14:02.", "", ""},
			{"Phone", "next: clean", "", "/kit/K18?piece=P2", "Go on with the phone"}},
		Waits: []waitLine{{"charging", "Waits for charging since 13:50"}},
		Look: &lookForm{Wet: Wet{Name: "17 recorder", NeededS: 60, Left: "0:19",
			Rows: []WetRow{{Running: true}}, FootText: "Wet since 14:05 by the server, 60 s needed, container 12"},
			Buttons: []button{{"looks_wet P1", "Yes, it still looks wet", true}, {"seen_dry P1", "Seen dry", false}}},
		Caution: cautionAt(reprocess.Step{Caution: "wet"}), Undo: &undoForm{12, "whole surface wet"},
		Papers: []paperLine{{To: "/document/Q1/2.pdf#page=14", Words: "Instructions: Handbook, page 14"},
			{Words: "No instructions for use of Phone P are on file.", None: true}},
		More: []link{{To: "/kit/K18/hold", Words: "Put on hold"}}}
	p.OwnHeading = true
	return p
}
