package web

import "handback/reprocess"

// supplyRoutes are the rows of batches, readings and stopped lots.
func supplyRoutes() []Route {
	batch, reads := acts(reprocess.ActBatch), acts(reprocess.ActReadStrength)
	stops, warns := acts(reprocess.ActLotStop), acts(reprocess.ActWarning)
	find := office(post, "/stop", stops, findToStop)
	ask := office(get, "/stop", stops, showStop)
	ask.Camera, find.Camera = true, true
	return []Route{
		ask,
		find,
		office(get, "/batch", batch, showBatch),
		office(post, "/batch", batch, prepareBatch),
		office(get, "/container/:id/reading", reads, showReading),
		office(post, "/container/:id/reading", reads, readStrength),
		office(get, "/container/:id/used", signedIn, showUsed),
		office(get, "/lot/:id/reach", signedIn, showReach),

		office(get, "/affected", warns, showWarningForm),
		office(post, "/affected", warns, compareWarning),
		office(post, "/affected/sign", warns, signWarning),
		office(get, "/affected/kept", warns, showWarnings),
		office(get, "/affected/:seq", warns, showWarning),
		office(post, "/affected/:seq", warns, holdAgain),
	}
}
