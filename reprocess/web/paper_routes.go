package web

import (
	"slices"

	"handback/reprocess"
)

// paperRoutes are the rows for the days when this log cannot be reached, and of technical
// checks.
func paperRoutes() []Route {
	enter, picture := acts(reprocess.ActPaper), acts(reprocess.ActPicture)
	sheet := office(post, "/kit/:id/paper-sheet", picture, keepSheet)
	sheet.Limit = mostBody
	return slices.Concat([]Route{
		place("/paper", "Paper", "What if this log cannot be reached?", enter, showPaper),
		office(get, "/paper/enter", enter, enterPaper),
		{Method: get, Path: "/paper/released", Who: signedIn, Page: "paper-released", Sample: sampleReleased, Handle: showReleased},
		{Method: get, Path: "/paper/sheet/:id", Who: signedIn, Page: "paper-sheet", Sample: sampleSheet, Handle: showSheet},
		office(get, "/kit/:id/paper", enter, showKitPaper),
		office(post, "/kit/:id/paper", enter, enterKitPaper),
		sheet,
	}, technicalRoutes(), campaignRoutes(), competenceRoutes())
}

// technicalRoutes are the rows of technical checks.
func technicalRoutes() []Route {
	check, list := acts(reprocess.ActCheck), acts(reprocess.ActChecks)
	record := office(post, "/checks/:piece", check, recordCheck)
	record.Limit = mostDocument
	return []Route{
		place("/checks", "Checks", "Which technical checks are due?", acts(reprocess.ActCheck,
			reprocess.ActStep), showTechnical),
		office(post, "/checks/policy", acts(reprocess.ActSettings), setCheckPolicy),
		office(get, "/checks/:piece", acts(reprocess.ActCheck, reprocess.ActStep), showPieceChecks),
		{Method: get, Path: "/checks/:piece/paper/:sha", Who: acts(reprocess.ActCheck, reprocess.ActStep),
			Handle: checkPaper},
		record,
		office(post, "/checks/:piece/version", acts(reprocess.ActVersion), setVersion),
		office(get, "/models/:id/checks", list, showModelChecks),
		office(post, "/models/:id/checks", list, addModelCheck),
		office(post, "/models/:id/check-end", list, endModelCheck),
	}
}

// campaignRoutes are the rows of campaigns.
func campaignRoutes() []Route {
	begin, mark := acts(reprocess.ActCampaign), acts(reprocess.ActCampaignMark)
	return []Route{
		office(get, "/campaigns/new", begin, showNewCampaign),
		office(post, "/campaigns", begin, beginCampaign),
		office(get, "/campaigns/:id", mark, showCampaign),
		office(post, "/campaigns/:id/done", mark, markCampaign),
		office(post, "/campaigns/:id/end", begin, endCampaign),
	}
}

// competenceRoutes are the rows of who may carry out what.
func competenceRoutes() []Route {
	return []Route{
		{Method: get, Path: "/competence", Who: only(reprocess.RoleSupervisor, reprocess.RoleAuditor, reprocess.RoleInfection), Page: "staff-matrix", Sample: sampleMatrix, Handle: showMatrix, Place: "Competence", Question: "Who may carry out which procedure?"},
		office(post, "/staff/:id/sign-off", acts(reprocess.ActSignOff), signOff),
	}
}
