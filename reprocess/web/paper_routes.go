package web

import "handback/reprocess"

// paperRoutes are the rows for the days when this log cannot be reached.
func paperRoutes() []Route {
	enter, picture := acts(reprocess.ActPaper), acts(reprocess.ActPicture)
	sheet := office(post, "/kit/:id/paper-sheet", picture, keepSheet)
	sheet.Limit = mostBody
	return []Route{
		place("/paper", "Paper", "What if this log cannot be reached?", enter, showPaper),
		office(get, "/paper/enter", enter, enterPaper),
		{Method: get, Path: "/paper/released", Who: signedIn, Page: "paper-released", Sample: sampleReleased, Handle: showReleased},
		{Method: get, Path: "/paper/sheet/:id", Who: signedIn, Page: "paper-sheet", Sample: sampleSheet, Handle: showSheet},
		office(get, "/kit/:id/paper", enter, showKitPaper),
		office(post, "/kit/:id/paper", enter, enterKitPaper),
		sheet,
	}
}
