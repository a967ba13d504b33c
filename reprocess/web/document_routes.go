package web

import (
	"bytes"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"

	"handback/reprocess"
)

// mostDocument is the size of a request that brings a document, with the fields around it.
const mostDocument = reprocess.MostDocumentBytes + 64<<10

// documentTime is how long such a request may take: 16 MiB at half a megabit a second.
const documentTime = 5 * time.Minute

// documentRoutes are the rows of documents. Who may read which paper is asked in the handlers:
// a row knows roles, not whom a paper is about.
func documentRoutes() []Route {
	keep, end := acts(reprocess.ActDocument), acts(reprocess.ActDocumentWithdraw)
	rules := acts(reprocess.ActSettings)
	add := office(post, "/documents/new", keep, addDocument)
	renew := office(post, "/document/:id/version", keep, renewDocument)
	add.Limit, renew.Limit = mostDocument, mostDocument
	return []Route{
		place("/documents", "Documents", "Which paper says how?", signedIn, showDocuments),
		office(get, "/documents/new", keep, showNewDocument),
		add,
		office(get, "/document/:id", signedIn, showDocument),
		office(get, "/document/:id/version", keep, askDocument(newerPage)),
		renew,
		office(get, "/document/:id/about", keep, askDocument(aboutPage)),
		office(post, "/document/:id/about", keep, attachDocument),
		office(get, "/document/:id/withdraw", end, askDocument(withdrawPage)),
		office(post, "/document/:id/withdraw", end, withdrawDocument),
		{Method: get, Path: "/document/:id/:file", Who: signedIn, Handle: documentFile},
		office(get, "/settings/documents", rules, showDocumentRules),
		office(post, "/settings/documents", rules, setDocumentRules),
	}
}

// takesDocument tells whether a post to this path may bring a PDF: a document, a newer version of
// one, or the paper of a technical check.
func takesDocument(path []byte) bool {
	if piece, ok := bytes.CutPrefix(path, []byte("/checks/")); ok {
		return len(piece) > 0 && !bytes.Contains(piece, []byte("/"))
	}
	return string(path) == "/documents/new" ||
		bytes.HasPrefix(path, []byte("/document/")) && bytes.HasSuffix(path, []byte("/version"))
}

// takeDocuments lets the addresses that take documents have larger requests and more time than
// all others. What else may send them is asked once the request is there.
func takeDocuments(app *fiber.App) {
	app.Server().HeaderReceived = func(h *fasthttp.RequestHeader) fasthttp.RequestConfig {
		path, _, _ := bytes.Cut(h.RequestURI(), []byte("?"))
		if !h.IsPost() || !takesDocument(path) {
			return fasthttp.RequestConfig{}
		}
		return fasthttp.RequestConfig{MaxRequestBodySize: mostDocument, ReadTimeout: documentTime}
	}
}
