package web

import "handback/reprocess"

// frozenRoutes are the rows of frozen look-backs and of the list of kits that are called back.
func frozenRoutes() []Route {
	freeze, act := acts(reprocess.ActFreezeLookBack), acts(reprocess.ActOnNamed)
	return []Route{
		{Method: post, Path: "/lookback", Who: freeze, Page: "lookback", Sample: sampleLookBack,
			Handle: freezeLookBack},
		office(get, "/lookback/frozen", readsTrail, showFrozenList),
		office(post, "/lookback/frozen", acts(reprocess.ActPolicy), setStopRule),
		office(get, "/lookback/frozen/:id", readsTrail, showFrozen),
		{Method: get, Path: "/lookback/frozen/:id/file", Who: readsTrail, Handle: frozenFile},
		office(get, "/lookback/frozen/:id/again", readsTrail, showFrozenAgain),
		office(get, "/lookback/frozen/:id/act", act, showActOnNamed),
		office(post, "/lookback/frozen/:id/act", act, actOnNamed),
		office(get, "/called-back", acts(reprocess.ActCall), showCalledBack),
	}
}
