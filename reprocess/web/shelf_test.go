package web

import (
	"net/http"
	"net/url"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// shelfKits are 17 and 18, released, and 19, half done; and the desk's browser.
func shelfKits(t *testing.T) (*clinic, *browser) {
	c := newClinic(t)
	c.release()
	c.another("18", 20)
	c.release()
	c.another("19", 40)
	c.toDrying()
	return c, c.person("Dana Desk", "dana", reprocess.RoleFrontDesk)
}

// onto sends one label of the row by the form that stands on the page.
func (b *browser) onto(place, find string) {
	b.site.t.Helper()
	b.post("/shelf", "place", place, "find", find)
	if b.status == http.StatusSeeOther {
		b.get(b.header.Get("Location"))
	}
}

// The place is asked once; each label is answered by the state block, and a refused kit or a
// label that nobody knows does not end the row.
func TestARowOfKitsGoesOnAShelf(t *testing.T) {
	c, b := shelfKits(t)
	b.get("/shelf")
	require.Contains(t, b.body, "Where do released kits go?")
	require.Contains(t, b.body, `href="/shelf?place=shelf&#43;A"`)
	require.NotContains(t, b.body, ">Dirty box<")
	b.get("/shelf?place=" + url.QueryEscape("shelf B"))
	require.Contains(t, b.body, "Which kit goes to shelf B?")
	require.Contains(t, b.body, `data-scan="again"`)
	require.Contains(t, b.body, "Put there by you today: 0 kits")

	b.onto("shelf B", "17")
	require.Equal(t, http.StatusOK, b.status)
	require.Contains(t, b.body, `<h1 class="state released"><span>Released</span></h1>`)
	require.Contains(t, b.body, "Kit 17 is recorded at shelf B.")
	require.Contains(t, b.body, "Put there by you today: 1 kit<")

	b.onto("shelf B", c.codeR) // of 19
	require.Equal(t, http.StatusUnprocessableEntity, b.status)
	require.Contains(t, b.body, `<h1 class="state">Not released</h1>`)
	require.Contains(t, b.body, "Kit 19 does not go there. It is still being reprocessed")
	require.Contains(t, b.body, "go on with the next")
	require.Contains(t, b.body, `name="place" value="shelf B"`)
	require.Regexp(t, `id="f-find" name="find" type="text" value=""`, b.body, "empty for the next one")

	b.onto("shelf B", "99")
	require.Equal(t, http.StatusNotFound, b.status)
	require.Contains(t, b.body, `<h1 class="state unsure"><span>Cannot confirm</span></h1>`)
	require.Contains(t, b.body, "There is no kit 99 here.")

	b.onto("shelf B", "18")
	require.Contains(t, b.body, "Kit 18 is recorded at shelf B.")
	require.Contains(t, b.body, "Put there by you today: 2 kits")
	require.Equal(t, 2, c.count(reprocess.ActMove, reprocess.ResultDone))
	require.Equal(t, 1, c.count(reprocess.ActMove, reprocess.ResultRefused))

	b.onto("shelf B", "17")
	require.Contains(t, b.body, "Kit 17 is there already, since 24 Nov 2026")
	require.Equal(t, 2, c.count(reprocess.ActMove, reprocess.ResultDone), "the second label of a kit")
	b.get("/ready")
	require.Contains(t, b.body, `href="/shelf"`)
	require.Contains(t, b.body, "Shelf B, cell lasts")
}

// An address alone never says "Released", and a place that is not named is asked for.
func TestTheShelfSaysNothingFromItsAddress(t *testing.T) {
	c, b := shelfKits(t)
	b.get("/shelf?place=bench&kit=" + c.kit)
	require.Contains(t, b.body, "Which kit goes to bench?")
	require.NotContains(t, b.body, "class=\"state")
	b.get("/shelf?place=bench&kit=K999")
	require.Equal(t, http.StatusNotFound, b.status)
	b.post("/shelf", "place", "", "find", "17")
	require.Equal(t, http.StatusBadRequest, b.status)
	require.Contains(t, b.body, "It is not said where the kits go.")
	auditor := c.person("Aud Itor", "aud", reprocess.RoleAuditor)
	auditor.get("/shelf")
	require.Equal(t, http.StatusForbidden, auditor.status)
}

// Without the network each label of the row waits by itself, with a key of its own; then each is
// sent, and what was refused says why. The intake does the same.
func TestARowOfLabelsWithoutTheNetwork(t *testing.T) {
	c, _ := shelfKits(t)
	p := c.newPhone()
	p.signedIn("dana", testSecret)
	p.open("/shelf")
	p.axe()
	p.shoot("shelf-place")
	p.open("/shelf?place=shelf+C")
	p.axe()
	cut := func(off bool) {
		t.Helper()
		_, err := chromedp.Call(p.ctx, network.EmulateNetworkConditionsByRule,
			network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: []*network.Conditions{
				{DownloadThroughput: -1, UploadThroughput: -1, Offline: off}}})
		require.NoError(t, err)
		_, err = chromedp.Call(p.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{
			Offline: off, DownloadThroughput: -1, UploadThroughput: -1})
		require.NoError(t, err)
	}
	const find = "Scan the label, or type the kit’s number"
	cut(true)
	for _, kit := range []string{"17", "19", "18"} {
		p.fill(find, kit+"\r")
		p.waitFor(`document.getElementById("outbox").innerText.includes("Not yet saved: To shelf C: ` + kit + `,")`)
		require.Empty(t, ask[string](p, `document.querySelector("#f-find").value`))
	}
	p.axe()
	p.shoot("shelf-waiting")
	require.Equal(t, 0, c.count(reprocess.ActMove, reprocess.ResultDone))
	cut(false)
	p.waitFor(`document.body && document.body.innerText.includes("Put there by you today: 2 kits") &&
		document.getElementById("outbox").innerText.includes("Not taken: To shelf C: 19,")`)
	require.Contains(t, p.text(), "Kit 19 does not go there. It is still being reprocessed")
	require.NotContains(t, p.text(), "Not yet saved")
	require.Equal(t, 2, c.count(reprocess.ActMove, reprocess.ResultDone))
	p.axe()
	p.shoot("shelf-sent")
	p.do(chromedp.Click(chromedp.CSS("#outbox button")))
	p.waitFor(`document.getElementById("outbox").innerText === ""`)
	p.fill(find, "17\r")
	p.waitFor(`document.title.startsWith("Released")`)
	p.axe()
	p.width(320, 568)
	p.fits()
	p.shoot("shelf")
}
