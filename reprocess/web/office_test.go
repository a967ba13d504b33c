package web

import (
	"bytes"
	"context"
	"mime/multipart"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess"
)

// clinicSite is a site that a supervisor has set up by the pages alone.
type clinicSite struct {
	*testSite
	b                             *browser
	recorder, phone, product, lot string
	procedure, phoneProcedure     string
}

// done posts a form of a page and demands that it stands; it gives where it led to.
func (b *browser) done(page, path string, pairs ...string) string {
	b.site.t.Helper()
	b.get(page)
	require.Equal(b.site.t, http.StatusOK, b.status, b.body)
	b.post(path, pairs...)
	require.Equal(b.site.t, http.StatusSeeOther, b.status, b.body)
	return b.header.Get("Location")
}

// refused posts a form of a page and demands a refusal that says so and keeps the page.
func (b *browser) refused(says, page, path string, pairs ...string) {
	b.site.t.Helper()
	b.get(page)
	require.Equal(b.site.t, http.StatusOK, b.status, b.body)
	b.post(path, pairs...)
	require.GreaterOrEqual(b.site.t, b.status, 400, b.body)
	require.Less(b.site.t, b.status, 500, b.body)
	require.Contains(b.site.t, b.body, says)
}

func (s *testSite) world() *reprocess.World {
	s.t.Helper()
	w, err := s.store.Everything(context.Background())
	require.NoError(s.t, err)
	return w
}

// newClinicSite plays the set-up: settings, two models, two procedures, a product and a lot.
func newClinicSite(t *testing.T) *clinicSite {
	t.Helper()
	s := &clinicSite{testSite: newSite(t)}
	s.b = s.setUp()
	s.b.done("/settings", "/settings", "clinic", "Moorland Heart Watch", "label_line",
		"Ring 555 0100", "contact", "555 0100", "hours", "Mon to Fri", "zone", "UTC")
	s.b.done("/models/new", "/models/new", "name", "Recorder A", "kind", "recorder",
		"parts", "charging cable\ncase", "wear_days", "14")
	s.b.done("/models/new", "/models/new", "name", "Phone P", "kind", "phone")
	for id, m := range s.world().Models {
		if m.Kind == reprocess.Recorder {
			s.recorder = id
			require.Equal(t, []string{"charging cable", "case"}, m.Parts)
		} else {
			s.phone = id
		}
	}
	s.procedure = s.approve(s.recorder)
	s.phoneProcedure = s.approve(s.phone)
	s.b.done("/products/new", "/products/new", "name", "House wipe E70", "use", "pre_soaked_wipe",
		"agent.ethanol", "70%v/v", "claim.BAC.s", "60", "claim.YEA.s", "60",
		"claim.BAC.standard", "EN 16615", "claim.BAC.soil", "clean",
		"models", s.recorder, "models", s.phone, "open_days", "28")
	for id := range s.world().Products {
		s.product = id
	}
	s.b.done("/lots/new", "/lots/new", "kind", "disinfectant", "product", s.product,
		"number", "E70-1", "expiry", "2027-11-24")
	for id := range s.world().Lots {
		s.lot = id
	}
	return s
}

// approve sends the form of the next version as it is drafted, signed.
func (s *clinicSite) approve(model string) string {
	s.t.Helper()
	pairs := append(draftFields(s.world(), model), "secret", bossSecret)
	s.b.done("/procedures/"+model+"/next", "/procedures/"+model+"/next", pairs...)
	w := s.world()
	return w.Procedures[w.InForce[model]].ID
}

// draftFields are the fields of the form as a browser would send them back.
func draftFields(w *reprocess.World, model string) []string {
	draft := draftOf(w, w.Models[model])
	pairs := []string{"name", draft.Name, "floor_s", "60", "min_strength", draft.MinStrength}
	for _, c := range draft.Needed {
		pairs = append(pairs, "needed", c)
	}
	for _, row := range draft.Steps {
		pairs = append(pairs, "step."+string(row.Step), "yes")
		for _, ask := range row.Asks {
			pairs = append(pairs, "step."+string(row.Step)+".asks", ask)
		}
	}
	return pairs
}

func TestProceduresInVersions(t *testing.T) {
	s := newClinicSite(t)
	first := s.world().Procedures[s.world().InForce[s.recorder]]
	require.Equal(t, 1, first.Version)
	require.Equal(t, []string{"BAC", "YEA"}, first.Needed)
	next := "/procedures/" + s.recorder + "/next"
	pairs := draftFields(s.world(), s.recorder)

	s.b.refused("This has to be signed.", next, next, append(pairs, "name", "Second")...)
	require.Contains(t, s.b.body, `value="Reprocessing of Recorder A"`, "what was typed is kept")
	s.b.refused("is not right", next, next, append(pairs, "secret", "wrong wrong wrong")...)
	s.b.refused("no whole number", next, next, append(pairs, "max_gap_min", "4h", "secret", bossSecret)...)
	s.b.refused("strength with a basis", next, next, append(pairs, "max_strength", "90%",
		"secret", bossSecret)...)
	var without []string
	for i := 0; i < len(pairs); i += 2 {
		if !strings.HasPrefix(pairs[i], "step.cleaning") {
			without = append(without, pairs[i], pairs[i+1])
		}
	}
	s.b.refused("cannot leave out", next, next, append(without, "secret", bossSecret)...)
	require.Len(t, s.world().Procedures, 2, "nothing refused was kept")

	s.b.done(next, next, append(pairs, "two_people", "yes", "release_days", "90", "secret", bossSecret)...)
	s.b.get("/procedures/" + s.recorder)
	require.Contains(t, s.b.body, "version 2")
	require.Contains(t, s.b.body, "by somebody who did not wipe")
	s.b.get("/procedures/" + s.recorder + "?version=1")
	require.Contains(t, s.b.body, "This is an old version")
	require.Contains(t, s.b.body, "the person who wiped may release")
	s.b.get("/procedures/" + s.recorder + "?version=9")
	require.Equal(t, http.StatusNotFound, s.b.status)
}

func TestProductsSayWhatIsMissing(t *testing.T) {
	s := newClinicSite(t)
	at := "/product/" + s.product
	s.b.get(at)
	// 70 % v/v is 62.4 % w/w by the table of OIML R 22.
	require.Contains(t, s.b.body, "62.4 % w/w")
	require.Contains(t, s.b.body, "Test or soil of the claim YEA is not recorded.")
	require.Contains(t, s.b.body, "The density is not recorded")
	base := []string{"name", "Bottle", "use", "ready_to_use", "models", s.recorder, "open_days", "28"}
	form := "/products/new"
	s.b.refused("No active agent is given", form, form, append(base, "claim.BAC.s", "60")...)
	s.b.refused("Neither a claim", form, form, append(base, "agent.ethanol", "70%v/v")...)
	s.b.refused("no whole number", form, form, append(base, "claim.BAC.s", "1 min")...)
	// A quaternary compound does not kill spores: the claim is a misreading.
	s.b.refused("label", form, form, append(base, "agent.quat", "0.4 %", "claim.SPO.s", "60")...)
	written := append(base, "agent.propan-2-ol", "70%", "as_written", "page 14", "written_s", "60")
	s.b.refused("has to be signed", form, form, written...)
	require.Contains(t, s.b.body, `value="page 14"`)
	s.b.done(form, form, append(written, "secret", bossSecret)...)
	for _, d := range s.world().Products {
		if d.Name == "Bottle" {
			s.b.get("/product/" + d.ID)
			require.Contains(t, s.b.body, "As in the instructions, page 14")
			require.Contains(t, s.b.body, "The label states no basis")
			s.b.done("/product/"+d.ID+"/change", "/product/"+d.ID+"/change",
				append(written, "open_days", "30")...) // signed before, unchanged
		}
	}
}

// Opening at the bench: scan a blank sticker, choose the lot, "opened today". Two taps.
func TestAContainerIsOpenedByItsSticker(t *testing.T) {
	s := newClinicSite(t)
	to := s.b.done("/labels/blanks", "/labels/blanks", "count", "3")
	require.Equal(t, "/labels/print?first=1&last=3", to)
	s.b.refused("cannot be made at once", "/labels/blanks", "/labels/blanks", "count", "201")
	s.b.refused("numbered up to", "/labels/blanks", "/labels/blanks", "count", "9999")
	blank, err := s.store.Blanks(context.Background(), 1, 3)
	require.NoError(t, err)
	require.Len(t, blank, 3)
	bind := "/label/" + blank[0].Code + "/bind"
	s.b.get("/d/" + blank[0].Code)
	require.Equal(t, bind, s.b.header.Get("Location"))
	to = s.b.done(bind, "/containers/open", "code", blank[0].Code, "lot", s.lot)
	require.True(t, strings.HasPrefix(to, "/container/"), to)
	s.b.get("/d/" + blank[0].Code)
	require.Equal(t, to, s.b.header.Get("Location"))
	s.b.get(to)
	require.Contains(t, s.b.body, "sticker 1")
	require.Contains(t, s.b.body, "Use by 22 Dec 2026") // 24 Nov and 28 days
	require.Contains(t, s.b.body, "Keep it wet for 1 min")
	s.b.refused("belongs to something", bind[:len(bind)-5]+"/bind", "/containers/open",
		"code", blank[0].Code, "lot", s.lot)
	s.b.refused("no such", "/containers/open", "/containers/open", "lot", "T0")
	s.b.refused("17", "/containers/open", "/containers/open", "lot", s.lot, "code", "7M2N")
	s.b.get("/supplies")
	require.Contains(t, s.b.body, "House wipe E70, lot E70-1, sticker 1")

	s.b.done(to, to+"/close", "why", "empty")
	s.b.get(to)
	require.Contains(t, s.b.body, ": empty.")
	s.b.get("/supplies")
	require.Contains(t, s.b.body, "No container is open")
}

func TestALotIsStoppedInTwoTapsAndLiftedSigned(t *testing.T) {
	s := newClinicSite(t)
	container := s.b.done("/containers/open", "/containers/open", "lot", s.lot)
	desk := s.person("Dario Moss", "dario", reprocess.RoleFrontDesk)
	lot := "/lot/" + s.lot
	desk.done(lot+"/stop", lot+"/stop", "reason", stopReasons[0])
	s.b.get(container)
	require.Contains(t, s.b.body, "Do not use it. Its lot was stopped: ")
	require.NotContains(t, s.b.body, "Use it for kit", "what suits nothing is offered for nothing")
	s.b.refused("stopped", "/containers/open", "/containers/open", "lot", s.lot)
	desk.get(lot + "/lift")
	require.Equal(t, http.StatusForbidden, desk.status)
	s.b.refused("has to be signed", lot+"/lift", lot+"/lift", "reason", "smell was the room")
	require.Contains(t, s.b.body, "smell was the room")
	s.b.done(lot+"/lift", lot+"/lift", "reason", "smell was the room", "secret", bossSecret)
	require.Nil(t, s.world().Lots[s.lot].Stopped)
}

func (s *clinicSite) register(number string, more ...string) string {
	s.t.Helper()
	to := s.b.done("/kits/new", "/kits/new", append([]string{"number", number, "place", "shelf A",
		"recorder.model", s.recorder, "recorder.serial", "R" + number, "phone.model", s.phone,
		"phone.serial", "F" + number}, more...)...)
	require.True(s.t, strings.HasPrefix(to, "/kit/"), to)
	return strings.TrimPrefix(to, "/kit/")
}

func TestKitsAreRegisteredFoundAndPutTogetherAnew(t *testing.T) {
	s := newClinicSite(t)
	first := s.register("17", "standing", "new", "recorder.udi",
		"(01)09506000134352(21)R17") // GTIN of the GS1 General Specifications' examples
	second := s.register("A-3X9", "standing", "out", "out", "2026-11-20", "due", "2026-12-04",
		"days", "14", "reference", "W-1042", "recorder.cycles", ">=40")
	w := s.world()
	require.Equal(t, reprocess.Issued, reprocess.KitState(w.Kits[second], w.Pieces))
	require.NotContains(t, w.Loans[w.Kits[second].Loan].Wearer, "1042", "only a token is recorded")
	require.True(t, w.Pieces[w.Kits[second].Pieces[0]].AtLeast)
	kit := []string{"recorder.model", s.recorder, "recorder.serial", "R9", "standing", "new"}
	for says, more := range map[string][]string{
		"cannot be a pool number":  {"number", "A-3X99"}, // six signs: one more than a label holds
		"There is a kit 17":        {"number", "17"},
		"is registered already":    {"number", "9", "recorder.serial", "R17"},
		"check digit":              {"number", "9", "recorder.udi", "(01)09506000134353(21)R9"},
		"no number of earlier":     {"number", "9", "recorder.cycles", "many"},
		"day it went out is empty": {"number", "9", "standing", "out"},
		"is no":                    {"number", "9", "recorder.model", s.phone},
	} {
		fields := append([]string{}, more...) // the first value of a name counts
		s.b.refused(says, "/kits/new", "/kits/new", append(fields, kit...)...)
	}
	s.b.get("/kits?find=ra-3x9")
	require.Contains(t, s.b.body, "/kit/"+second)
	require.NotContains(t, s.b.body, "/kit/"+first+`"`)

	s.b.done("/kits/spare/phone", "/kits/spare/phone", "phone.model", s.phone, "phone.serial", "F99")
	s.b.refused("is registered already", "/kits/spare/phone", "/kits/spare/phone", "phone.model",
		s.phone, "phone.serial", "F99")
	compose := "/kits/" + first + "/compose"
	s.b.done(compose, compose, "recorder", "R17", "phone", "F99")
	s.b.get("/labels/kit/" + first)
	require.Contains(t, s.b.body, "phone F99")
	s.b.refused("There is no such thing", compose, compose, "recorder", "R17", "phone", "nobody")
	s.b.done(compose, compose, "recorder", "R17", "phone", "")
	require.Len(t, s.world().Kits[first].Pieces, 1)
	s.b.refused("is out", "/kits/"+second+"/compose", "/kits/"+second+"/compose", "recorder", "R17")
}

func TestLabelsOfKits(t *testing.T) {
	s := newClinicSite(t)
	kit := s.register("17", "standing", "new")
	s.b.refused("0 kits are chosen", "/labels/kits", "/labels/kits")
	to := s.b.done("/labels/kits", "/labels/kits", "kits", kit)
	require.Equal(t, "/labels/print?kits="+kit, to)
	w := s.world()
	require.Len(t, w.Labels, 2)
	s.b.done("/labels/kits", "/labels/kits", "kits", kit)
	require.Len(t, s.world().Labels, 2, "no second label for a piece that has one")
	s.b.get(to)
	require.Contains(t, s.b.body, "38.1 x 21.2, 65 on A4")
	s.b.get("/labels/sheet.pdf?kits=" + kit + "&preset=" + strings.ReplaceAll("38.1 x 21.2, 65 on A4",
		" ", "+") + "&start=64&x=-0,5&scale_x=101")
	require.Equal(t, http.StatusOK, s.b.status, s.b.body)
	require.True(t, strings.HasPrefix(s.b.body, "%PDF-"))
	for query, says := range map[string]string{
		"x=12": "too large", "scale_y=120": "not between", "start=a": "is no number",
		"preset=none": "no sheet", "level=Q": "module", "level=H": "too long", "kits=K0": "no such kit",
	} {
		s.b.get("/labels/sheet.pdf?" + query + "&kits=" + kit)
		require.GreaterOrEqual(t, s.b.status, 400, query)
		require.Contains(t, s.b.body, says, query)
	}
	require.NotContains(t, s.b.body, "%PDF-")
	s.b.get("/labels/sheet.pdf?level=Q&insist=yes&kits=" + kit)
	require.True(t, strings.HasPrefix(s.b.body, "%PDF-"), "a person may insist: %s", between(s.b.body, "<strong>", "</strong>"))
	s.b.get("/labels/sheet.pdf?preset=roll&kits=" + kit)
	require.True(t, strings.HasPrefix(s.b.body, "%PDF-"))
	s.oneLabel(kit)
}

// oneLabel plays the page of a label, its files, and the re-issue that ends it at once.
func (s *clinicSite) oneLabel(kit string) {
	t, piece := s.t, s.world().Kits[kit].Pieces[0]
	all, err := s.store.LabelsOf(context.Background(), piece)
	require.NoError(t, err)
	at := "/label/" + all[0].Code
	for file, head := range map[string]string{"label.pdf": "%PDF-", "label.png": "\x89PNG",
		"label.svg": "<"} {
		s.b.get(at + "/" + file)
		require.Equal(t, http.StatusOK, s.b.status, file)
		require.True(t, strings.HasPrefix(s.b.body, head), file)
	}
	s.b.get(at + "/label.gif")
	require.Equal(t, http.StatusNotFound, s.b.status)
	again := "/labels/again/piece/" + piece
	s.b.get(at)
	s.b.post(again, "reason", "")
	require.Equal(t, http.StatusBadRequest, s.b.status)
	fresh := s.b.done(at, again, "reason", "edge lifting")
	require.NotEqual(t, at, fresh)
	s.b.get(at)
	require.Contains(t, s.b.body, "was withdrawn")
	require.NotZero(t, s.world().Labels[all[0].Code].Withdrawn)
	// A blank sticker takes its place.
	s.b.done("/labels/blanks", "/labels/blanks", "count", "1")
	blank, err := s.store.Blanks(context.Background(), 1, 1)
	require.NoError(t, err)
	bind := "/label/" + blank[0].Code + "/bind"
	s.b.get(bind + "?kit=17")
	require.Contains(t, s.b.body, "has a label, which is withdrawn at once")
	s.b.done(bind+"?kit=17", bind, "kit", kit, "piece", piece)
	require.Equal(t, piece, s.world().Labels[blank[0].Code].Target)
	require.NotZero(t, s.world().Labels[strings.TrimPrefix(fresh, "/label/")].Withdrawn)
}

func TestTheSlipOfAKit(t *testing.T) {
	s := newClinicSite(t)
	kit := s.register("17", "standing", "new")
	at := "/labels/slip/" + kit
	s.b.refused("is not released", at, at, "due", "2026-12-08", "paper", "A4")
	ready := s.register("18", "standing", "ready", "ready", "2026-12-20")
	at = "/labels/slip/" + ready
	s.b.refused("no day to bring it back", at, at, "due", "", "paper", "A4")
	to := s.b.done(at, at, "due", "2026-12-08", "paper", "A4")
	s.b.get(to)
	require.Contains(t, s.b.body, "Slip of kit 18 as PDF")
	s.b.get(at + "/slip.pdf?due=2026-12-08&paper=Letter")
	require.True(t, strings.HasPrefix(s.b.body, "%PDF-"), s.b.body)
	slip, err := s.store.LabelsOf(context.Background(), ready)
	require.NoError(t, err)
	require.Len(t, slip, 1)
	require.Equal(t, reprocess.CodeSlip, slip[0].Kind)
	s.b.get("/d/" + slip[0].Code) // the one address form of all codes
	require.Equal(t, "/kit/"+ready, s.b.header.Get("Location"))
}

func TestStaffFromNewToGone(t *testing.T) {
	s := newClinicSite(t)
	at := s.b.done("/staff/new", "/staff/new", "name", "Rosa Quint", "sign_in", "Rosa",
		"roles", "reprocessing", "roles", "release")
	s.b.refused("belongs to", "/staff/new", "/staff/new", "name", "Rosa Other", "sign_in", "rosa",
		"roles", "release")
	s.b.refused("without a role", "/staff/new", "/staff/new", "name", "Nobody", "sign_in", "nn")
	s.b.done(at, at+"/competence", "procedures", s.procedure, "procedures", s.phoneProcedure,
		"from", "2026-11-24", "learning", "yes")
	id := strings.TrimPrefix(at, "/staff/")
	require.Equal(t, reprocess.LearningIt, s.world().People[id].Competence(s.procedure, "2026-11-24"))
	s.b.refused("No procedure is ticked", at, at+"/competence", "from", "2026-11-24")
	s.b.refused("before it begins", at, at+"/competence", "procedures", s.procedure,
		"from", "2026-11-24", "until", "2026-11-23")
	s.b.done(at, at+"/competence-end", "procedure", s.procedure, "from", "2026-11-24")
	require.Equal(t, reprocess.Lapsed, s.world().People[id].Competence(s.procedure, "2026-11-25"))

	s.b.get(at + "/secret")
	entries := s.entryCount()
	for want, secret := range map[string]string{"This has to be signed.": "",
		"The name or the secret is not right.": "not my secret at all"} {
		s.b.post(at+"/secret", "phone", "Bench 2", "secret", secret)
		require.GreaterOrEqual(t, s.b.status, 400)
		require.Contains(t, s.b.text(), want)
		require.Contains(t, s.b.body, `value="Bench 2"`, "what was typed stays")
		require.NotContains(t, s.b.body, "Give Rosa Quint this code")
	}
	require.Equal(t, entries, s.entryCount())
	s.b.post(at+"/secret", "phone", "Bench 2", "secret", bossSecret)
	require.Equal(t, http.StatusOK, s.b.status, s.b.body)
	given, err := s.store.Entry(t.Context(), s.entryCount())
	require.NoError(t, err)
	require.Equal(t, reprocess.ActSecretReset, given.Act)
	require.True(t, given.Signed)
	code := between(s.b.body, `<p class="state figures">`, "</p>")
	rosa := s.browser()
	rosa.get("/secret/" + code)
	require.Equal(t, http.StatusOK, rosa.status, rosa.body)
	rosa.post("/secret/"+code, "secret", testSecret, "secret_again", testSecret)
	require.Equal(t, http.StatusSeeOther, rosa.status, rosa.body)
	rosa.get("/staff")
	require.Equal(t, http.StatusForbidden, rosa.status)
	s.b.done(at, at, "name", "Rosa Quint", "sign_in", "rosa", "roles", "release",
		"left", "2026-11-23")
	rosa.get("/")
	require.Equal(t, http.StatusSeeOther, rosa.status, "leaving ends the sign-in")
	s.b.get("/staff")
	require.Contains(t, s.b.body, "left on 23 Nov 2026")
	s.b.get("/staff/rights")
	require.Contains(t, s.b.body, "Put on hold")
}

func between(text, before, after string) string {
	_, rest, _ := strings.Cut(text, before)
	inner, _, _ := strings.Cut(rest, after)
	return inner
}

func TestPhonesAreInvitedAndEnded(t *testing.T) {
	s := newClinicSite(t)
	s.b.get("/phones")
	s.b.post("/phones/invite", "name", "Bench 9")
	require.Equal(t, http.StatusOK, s.b.status)
	code := between(s.b.body, `<p class="state figures">`, "</p>")
	other := s.browser()
	other.done("/phone", "/phone", "code", code)
	s.b.refused("Another phone is called", "/phones", "/phones/invite", "name", "bench 9")
	for id, phone := range s.world().Phones {
		if phone.Name == "Bench 9" {
			s.b.done("/phones/"+id, "/phones/"+id, "reason", "Lost")
		}
	}
	other.get("/sign-in")
	require.Contains(t, other.body, "not enrolled")
	s.b.get("/phones")
	require.Contains(t, s.b.body, "ended 24 Nov 2026")
}

func TestLockedOutPeopleAreShown(t *testing.T) {
	s := newClinicSite(t)
	s.person("Dario Moss", "dario", reprocess.RoleFrontDesk)
	b := s.enrolled()
	for range 10 {
		b.get("/sign-in")
		b.post("/sign-in", "name", "dario", "secret", "wrong secret here")
	}
	locked, err := s.store.LockedOut(context.Background())
	require.NoError(t, err)
	require.NotEmpty(t, locked)
	s.b.get("/staff")
	require.Contains(t, s.b.body, "wrong secrets in a row")
}

// upload sends a file through the form of the import page.
func (b *browser) upload(path, content string) {
	b.site.t.Helper()
	token, key := b.hidden()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, value := range map[string]string{"token": token, "key": key} {
		require.NoError(b.site.t, w.WriteField(name, value))
	}
	part, err := w.CreateFormFile("file", "kits.csv")
	require.NoError(b.site.t, err)
	_, err = part.Write([]byte(content))
	require.NoError(b.site.t, err)
	require.NoError(b.site.t, w.Close())
	req, err := http.NewRequest(http.MethodPost, b.site.url(path), &body)
	require.NoError(b.site.t, err)
	req.Header.Set("Content-Type", w.FormDataContentType())
	b.do(req)
}

func TestKitsAreTakenOverAllOrNothing(t *testing.T) {
	s := newClinicSite(t)
	s.b.get("/kits/template")
	require.Equal(t, string(reprocess.ImportTemplate()), s.b.body)
	header := "number,recorder_model,recorder_serial,phone_model,phone_serial,state,out_since,wearer,ready_until\r\n"
	good := header + "1,Recorder A,R1,Phone P,F1,here,,,\r\n2,recorder a,R2,,,out,2026-11-01,W-7,\r\n" +
		"3,Recorder A,R3,,,ready,,,2026-12-24\r\n"
	s.b.get("/kits/import")
	s.b.upload("/kits/import", good+"2,Recorder A,R1,,,out,,,\r\n")
	require.Equal(t, http.StatusBadRequest, s.b.status, s.b.body)
	require.Contains(t, s.b.body, "Line 5, number: Line 3 has the number 2 too.")
	require.Contains(t, s.b.body, "Line 5, recorder_serial: Line 2 has the serial R1 too.")
	require.Contains(t, s.b.body, "Line 5, out_since: The day it went out is empty.")
	require.Empty(t, s.world().Kits)
	s.b.get("/kits/import")
	s.b.upload("/kits/import", good)
	require.Equal(t, http.StatusSeeOther, s.b.status, s.b.body)
	w := s.world()
	require.Len(t, w.Kits, 3)
	require.Len(t, w.Loans, 1)
	for _, l := range w.Loans {
		reference, err := s.store.WearerRef(context.Background(), l.Wearer)
		require.NoError(t, err)
		require.Equal(t, "W-7", reference)
	}
	s.b.get("/kits")
	require.Contains(t, s.b.body, "3 kits are taken over, 1 of them out.")
	s.b.get("/kits/import")
	s.b.upload("/kits/import", good)
	require.Equal(t, http.StatusBadRequest, s.b.status, "the same kits again")
	require.Len(t, s.world().Kits, 3)
}

// The file of a sheet is what pdfinfo calls a page of A4.
func TestASheetIsAPageOfPaper(t *testing.T) {
	s := newClinicSite(t)
	s.b.done("/labels/blanks", "/labels/blanks", "count", "66")
	s.b.get("/labels/sheet.pdf?first=1&last=66")
	require.Equal(t, http.StatusOK, s.b.status, s.b.body)
	file := filepath.Join(t.TempDir(), "labels.pdf")
	require.NoError(t, os.WriteFile(file, []byte(s.b.body), 0o600))
	out := pdfInfo(t, file)
	require.Contains(t, out, "Pages:           2")
	require.Contains(t, out, "A4")
}

func pdfInfo(t *testing.T, file string) string {
	t.Helper()
	out, err := exec.Command("pdfinfo", file).CombinedOutput()
	require.NoError(t, err, "pdfinfo is needed: apt-get install -y poppler-utils: %s", out)
	return string(out)
}
