package web

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestTheQuietPlacesInABrowser opens every page of kits, supplies, labels, procedures, staff and
// settings on a phone: axe-core and our own checks find nothing, also at 320 px.
func TestTheQuietPlacesInABrowser(t *testing.T) {
	s := newClinicSite(t)
	kit := s.register("17", "standing", "ready", "ready", "2026-12-20")
	s.register("A-3X9", "standing", "out", "out", "2026-11-20", "due", "2026-12-04")
	s.b.done("/labels/kits", "/labels/kits", "kits", kit)
	s.b.done("/labels/blanks", "/labels/blanks", "count", "2")
	blank, err := s.store.Blanks(t.Context(), 1, 2)
	require.NoError(t, err)
	container := s.b.done("/containers/open", "/containers/open", "lot", s.lot, "code", blank[0].Code)
	person := s.b.done("/staff/new", "/staff/new", "name", "Rosa Quint", "sign_in", "rosa",
		"roles", "release")
	s.b.done(person, person+"/competence", "procedures", s.procedure, "from", "2026-11-24")
	paper := s.b.brings("/documents/new?about=model:"+s.recorder, "/documents/new", aPDF(t, "Handbook"),
		newPaper("instructions", "model:"+s.recorder, "Handbook", "4")...)
	s.b.brings(paper+"/version", paper+"/version", aPDF(t, "5th"), "edition", "5", "dated", "2026-11-01")
	p := s.newPhone()
	p.signedIn("ada", bossSecret)
	for name, path := range map[string]string{
		"kits": "/kits", "kit-new": "/kits/new", "kit-import": "/kits/import",
		"kit-compose": "/kits/" + kit + "/compose", "supplies": "/supplies",
		"container": container, "container-open": "/containers/open", "lots": "/lots",
		"lot-new": "/lots/new", "lot": "/lot/" + s.lot, "lot-stop": "/lot/" + s.lot + "/stop",
		"products": "/products", "product": "/product/" + s.product, "product-new": "/products/new",
		"labels": "/labels", "labels-kits": "/labels/kits", "labels-blanks": "/labels/blanks",
		"labels-print": "/labels/print?kits=" + kit, "labels-slip": "/labels/slip/" + kit,
		"label": "/label/" + blank[0].Code, "label-bind": "/label/" + blank[1].Code + "/bind",
		"label-bind-kit": "/label/" + blank[1].Code + "/bind?kit=17", "procedures": "/procedures",
		"procedure": "/procedures/" + s.recorder, "procedure-next": "/procedures/" + s.recorder + "/next",
		"models": "/models", "model": "/models/" + s.recorder, "staff": "/staff", "person": person,
		"staff-rights": "/staff/rights", "staff-secret": person + "/secret", "phones": "/phones",
		"settings": "/settings", "documents": "/documents", "document": paper,
		"document-about": "/documents?about=model:" + s.recorder, "document-choose": "/documents/new",
		"document-new":     "/documents/new?about=model:" + s.recorder,
		"document-version": paper + "/version", "document-more": paper + "/about",
		"document-withdraw": paper + "/withdraw", "document-rules": "/settings/documents",
	} {
		p.open(path)
		p.axe()
		p.width(320, 568)
		p.fits()
		p.width(360, 740)
		p.shoot("office-" + name)
	}
}

// A supervisor makes a procedure by hand: the draft is ticked, the secret signs it.
func TestAProcedureIsSignedInABrowser(t *testing.T) {
	s := newClinicSite(t)
	p := s.newPhone()
	p.signedIn("ada", bossSecret)
	p.open("/procedures/" + s.recorder + "/next")
	p.fill("Your own secret, to sign this", "wrong wrong wrong")
	p.press("Sign version 2")
	require.Contains(t, p.text(), "is not right")
	p.axe()
	p.fill("Your own secret, to sign this", bossSecret)
	p.press("Sign version 2")
	require.Contains(t, p.text(), "The new version is in force.")
	p.axe()
	p.do(chromedp.Reload())
	require.Contains(t, p.text(), "version 2")
}
