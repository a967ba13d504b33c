package reprocess

// Product is a disinfectant as its label and data sheet describe it. What is not recorded is
// a remark, not a wall, but for the few things that the gate needs.
type Product struct {
	ID        string     `json:"id"`
	Name      string     `json:"name"`
	Use       ProductUse `json:"use"`
	Actives   []Active   `json:"actives"`
	DensityKg string     `json:"density,omitempty"` // such as "0.8765g/mL"
	Claims    []Claim    `json:"claims,omitempty"`
	Basis     string     `json:"basis,omitempty"`      // legal basis, free text
	AsWritten string     `json:"as_written,omitempty"` // "as in the instructions, page n", signed
	WrittenS  int        `json:"written_s,omitempty"`  // the time those instructions name, s
	Models    []string   `json:"models,omitempty"`     // compatible models
	OpenDays  int        `json:"open_days,omitempty"`  // use-by after opening, days; 0: unknown
	Sheet     string     `json:"sheet,omitempty"`      // data sheet that counts: hash of the kept document
	HandRub   bool       `json:"hand_rub,omitempty"`
	Retired   bool       `json:"retired,omitempty"`

	Also  []Active `json:"also,omitempty"`  // second figures of the same alcohols, as printed
	Least int      `json:"least,omitempty"` // unopened containers to be kept in stock; 0: none stated
}

// ProductUse is how the product comes to the surface.
type ProductUse string

// The uses.
const (
	ReadyToUse  ProductUse = "ready_to_use"
	Concentrate ProductUse = "concentrate"
	SoakedWipe  ProductUse = "pre_soaked_wipe"
	DryWipe     ProductUse = "dry_wipe_soaked_on_site"
	MadeHere    ProductUse = "made_here" // diluted on site; its lots are batches
)

// Active is one agent with its figure and basis as printed, such as "70%v/v" or "70%".
type Active struct {
	Agent    string `json:"agent"` // ethanol, propan-2-ol, propan-1-ol, quat, chlorine, peroxide, peracetic, other
	Strength string `json:"strength"`
}

// Claim is an activity shown in a named test, at a contact time. Standard, edition and soil
// may be empty: "not recorded".
type Claim struct {
	Token    string `json:"token"`
	Seconds  int    `json:"seconds"`
	Standard string `json:"standard,omitempty"`
	Soil     string `json:"soil,omitempty"` // clean, dirty or empty
}

// The kinds of lots.
const (
	LotDisinfectant = "disinfectant"
	LotCells        = "cells"
	LotElectrodes   = "electrodes"
)

// Lot is a delivered lot of a product, or of cells or electrodes, with its printed expiry.
type Lot struct {
	ID      string `json:"id"`
	Kind    string `json:"kind"`              // disinfectant, cells, electrodes
	Product string `json:"product,omitempty"` // product id for disinfectants
	Name    string `json:"name,omitempty"`    // designation such as LR03 for cells
	Number  string `json:"number,omitempty"`  // as printed; cells may show none
	Expiry  Date   `json:"expiry,omitempty"`  // last usable day
	Stopped *Stop  `json:"stopped,omitempty"`

	Count int     `json:"count,omitempty"` // containers delivered; 0: nobody counted
	Ended Instant `json:"ended,omitempty"` // called used up
	From  string  `json:"from,omitempty"`  // prepared here: the lot of the stock
}

// Stop is an open stop of a lot: anyone trained sets it, an entitled person lifts it.
type Stop struct {
	Seq    int64   `json:"seq"`
	At     Instant `json:"at"`
	By     string  `json:"by"`
	Reason string  `json:"reason"`
}

// Container is one opened bottle, tub or box of a lot.
type Container struct {
	ID     string  `json:"id"`
	Lot    string  `json:"lot"`
	Number string  `json:"number,omitempty"` // the printed sticker number
	Opened Date    `json:"opened,omitempty"`
	Proof  string  `json:"proof,omitempty"` // reason, where the opening day was entered later
	Closed Instant `json:"closed,omitempty"`
	Why    string  `json:"why,omitempty"` // empty, thrown away

	Batch    *Batch            `json:"batch,omitempty"`    // prepared here; nil: delivered
	Readings []StrengthReading `json:"readings,omitempty"` // oldest first; the newest counts
}
