package web

import (
	"handback/reprocess"
)

// wornWords is the answer to "worn by how many since?".
func wornWords(worn string) string {
	switch worn {
	case reprocess.WornUnknown:
		return "on the ward worn by nobody knows how many"
	case reprocess.NotAsked:
		return "by how many it was worn on the ward was not asked"
	}
	return "on the ward worn by " + worn
}
