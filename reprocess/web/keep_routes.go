package web

import "handback/reprocess"

// keepRoutes are the rows of keeping, erasing and legal holds, and of passes for inspectors.
func keepRoutes() []Route {
	keep, hold := acts(reprocess.ActRetention), acts(reprocess.ActLegalHold)
	lift, erase := acts(reprocess.ActLegalLift), acts(reprocess.ActEraseWearer)
	pass := acts(reprocess.ActPass)
	return []Route{
		office(get, "/retention", keep, showRetention),
		office(post, "/retention", keep, setRetention),
		office(get, "/retention/hold", hold, showNewLegalHold),
		office(post, "/retention/hold", hold, setLegalHold),
		office(get, "/retention/hold/:id", lift, showLegalHold),
		office(post, "/retention/hold/:id", lift, liftLegalHold),
		office(get, "/retention/loan/:id", erase, showEraseLink),
		office(post, "/retention/loan/:id", erase, eraseLink),
		office(get, "/passes", pass, showPasses),
		office(post, "/passes", pass, issuePass),
		office(get, "/passes/:id", pass, showPass),
		office(post, "/passes/:id/end", acts(reprocess.ActPassEnd), endPass),
	}
}
