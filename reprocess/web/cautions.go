package web

import "handback/reprocess"

// Caution is one line of the list; Step ties it to the caution of a step, empty for those
// that stand in the whole list only.
type Caution struct{ Step, Words string }

// makersWord ends every list of cautions.
const makersWord = "Follow the device maker’s instructions and your local policy. This log does " +
	"not approve a product and does not prove that a device is safe."

// cautions is the list. The first row of a step stands at the step; all stand on one page.
var cautions = []Caution{
	{"gloves", "Gloves on; dirty and clean never share the bench."},
	{"soil", "Dirt off first: alcohol does not clean and can fix soil."},
	{"wet", "Dried too soon: start over. Flammable: no flame, spark or charger near."},
	{"dry", "Let it dry fully before battery, charger or test."},
	{"crazing", "Alcohol and chlorine can crack, cloud or swell plastics: look."},
	{"cells", "Keep cells from children. Swollen or leaking: on hold."},
	{"names", "No names and no diagnoses in anything you type."},
	{"bench", "After a test on a person disinfect and dry it again."},
	{"single_use", "Single-use parts never go into another bag."},
	{"released", "“Released” means recorded as passed, not sterile."},
	{"", "Gloves off and hands done between the dirty and the clean side."},
	{"", "The surface must look wet for the whole time. If it dries, wet it again and start over."},
	{"", "Never put it under water unless its maker says so."},
	{"", "Coin cells burn when swallowed; never charge, open or heat a cell."},
	{"", "Look at seals, plastics and label edges each time: what wipes them can harm them."},
	{"", "Alcohol does not kill spores. After diarrhoea stop and call infection control."},
	{"", "Alcohol may miss some bare viruses unless the label of this product claims " +
		"them at the time shown."},
	{"", "“70 %” says nothing without v/v or w/w. Read the label."},
	{"", "Too weak fails, and undiluted alcohol is weaker as well."},
	{"", "Small amounts, air the room, wipe and do not spray; keep oxygen and hot things away."},
	{"", "Never mix agents: chlorine with acid, ammonia or alcohol gives off dangerous gas."},
	{"", "What stays on the surface can irritate skin: " +
		"wipe it off if the label says so; look at strap and contacts."},
	{"", "An opened container has its own, shorter life. Close the lid, never top it up."},
	{"", "Worn over broken skin, or a rash told: put the device on hold."},
	{"", "Damaged, cracked, wet inside or a swollen battery: on hold; a declaration before repair."},
	{"", "Scan every device at every hand-over; do not trust a sticker alone."},
	{"", "A hand rub is for hands, not for devices."},
	{"", "A wrong temperature makes a hydrometer reading wrong: type the temperature in."},
	{"", "A list of exposed wearers is for infection control; do not call wearers from it yourself."},
}

// cautionAt is the caution that stands at a step, empty for none.
func cautionAt(step reprocess.Step) string {
	for _, c := range cautions {
		if c.Step != "" && c.Step == step.Caution {
			return c.Words
		}
	}
	return ""
}

// cautionsPage is the whole list.
type cautionsPage struct {
	Base
	All   []Caution
	Maker string
}

func cautionsPageOf() *cautionsPage {
	return &cautionsPage{Base: Titled("What to be careful about"), All: cautions, Maker: makersWord}
}

func sampleCautions() Page { return cautionsPageOf() }

func showCautions(v *Visit) error { return v.Show(cautionsPageOf()) }
