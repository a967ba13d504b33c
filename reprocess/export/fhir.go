package export

import (
	"bufio"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"handback/reprocess"
)

// One HL7 FHIR R4 (4.0.1) Bundle of type collection: an AuditEvent for each entry, a Provenance
// for each signed one, then a Task for each cycle and a Device for each piece that these name.
// AuditEvent.entity.detail carries log-seq and leaf-hash, which lead back to the proof.

// object is one JSON object; encoding/json writes its members in order of their names.
type object map[string]any

// text sets a member unless it is empty: FHIR knows no empty strings.
func (o object) text(name, value string) object {
	if strings.TrimSpace(value) != "" {
		o[name] = value
	}
	return o
}

// bundle writes resources one by one.
type bundle struct {
	w       *bufio.Writer
	enc     *json.Encoder
	origin  string
	count   int64
	devices []string // pieces named so far, each once
	tasks   []string // cycles
	named   map[string]bool
}

// WriteFHIR writes the Bundle of the chosen entries and cycles and gives the number of
// resources. origin names the log; it makes the addresses inside the Bundle unlike those of
// another log's.
func WriteFHIR(w io.Writer, origin string, entries Entries, c Choice) (resources int64, err error) {
	b := &bundle{w: bufio.NewWriter(w), origin: origin, named: map[string]bool{}}
	b.enc = json.NewEncoder(b.w)
	b.enc.SetEscapeHTML(false)
	if _, err := b.w.WriteString(`{"resourceType":"Bundle","type":"collection"`); err != nil {
		return 0, err
	}
	f := newFold()
	if err := b.events(f, entries, c); err != nil {
		return b.count, err
	}
	if err := b.rest(f, c); err != nil {
		return b.count, err
	}
	end := "}\n"
	if b.count > 0 {
		end = "]}\n"
	}
	if _, err := b.w.WriteString(end); err != nil {
		return b.count, err
	}
	return b.count, b.w.Flush()
}

// events goes through all entries and writes what follows from each chosen one alone.
func (b *bundle) events(f *fold, entries Entries, c Choice) error {
	known := newNames()
	for line, err := range inOrder(entries) {
		if err != nil {
			return err
		}
		e := line.Entry
		row := known.row(line)
		known.learn(e)
		if err := f.take(e); err != nil {
			return err
		}
		if !c.holds(e.At, e.Kit) {
			continue
		}
		if err := b.add("AuditEvent", seqID(e), b.auditEvent(row)); err != nil {
			return err
		}
		if e.Signed && e.Result == reprocess.ResultDone {
			if err := b.add("Provenance", seqID(e), b.provenance(row)); err != nil {
				return err
			}
		}
	}
	return nil
}

// rest writes the tasks that were named or began within the choice, then the devices.
func (b *bundle) rest(f *fold, c Choice) error {
	for _, id := range f.order {
		r, err := f.cycle(id)
		if err != nil {
			return err
		}
		if c.holds(r.Opened, r.Kit) {
			b.refer("Task", id)
		}
	}
	for _, id := range b.tasks {
		r, err := f.cycle(id)
		if err != nil {
			return err
		}
		if r == nil {
			continue
		}
		if err := b.add("Task", id, b.task(r)); err != nil {
			return err
		}
	}
	for _, id := range b.devices {
		if err := b.add("Device", id, b.device(f.w, id)); err != nil {
			return err
		}
	}
	return nil
}

func seqID(e *reprocess.Entry) string { return "E" + strconv.FormatInt(e.Seq, 10) }

// fhirID is what FHIR allows as the id of a resource.
var fhirID = regexp.MustCompile(`^[A-Za-z0-9\-.]{1,64}$`)

// add writes one resource.
func (b *bundle) add(kind, id string, resource object) error {
	before := ","
	if b.count == 0 {
		before = `,"entry":[`
	}
	b.count++
	resource["resourceType"] = kind
	if fhirID.MatchString(id) {
		resource["id"] = id
	}
	if _, err := b.w.WriteString(before); err != nil {
		return err
	}
	return b.enc.Encode(object{"fullUrl": b.address(kind, id), "resource": resource})
}

// address is a UUID of version 8 (RFC 9562) from SHA-256 over log, kind and id: the same thing
// has the same address in every export of one log.
func (b *bundle) address(kind, id string) string {
	h := sha256.Sum256([]byte(b.origin + "\n" + kind + "\n" + id))
	h[6], h[8] = h[6]&0x0f|0x80, h[8]&0x3f|0x80
	return fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", h[0:4], h[4:6], h[6:8], h[8:10], h[10:16])
}

// refer points to a task or device and remembers that it has to be written.
func (b *bundle) refer(kind, id string) object {
	if !b.named[kind+id] {
		b.named[kind+id] = true
		if kind == "Task" {
			b.tasks = append(b.tasks, id)
		} else if kind == "Device" {
			b.devices = append(b.devices, id)
		}
	}
	return object{"reference": b.address(kind, id)}
}

func words(text string) object { return object{"text": text} }

// person points to somebody on the staff; they are no resources of their own.
func person(id, name string) object {
	return object{"identifier": object{"value": id}}.text("display", name)
}

// applicationActivity is the DICOM event of everything here (DICOM PS3.16, CID 400).
var applicationActivity = object{"system": "http://dicom.nema.org/resources/ontology/DCM",
	"code": "110100", "display": "Application Activity"}

func (b *bundle) auditEvent(r *entryRow) object {
	act := object{"code": string(r.Act)}
	if right, ok := reprocess.FindRight(r.Act); ok {
		act.text("display", right.Words)
	}
	agent := object{"who": person(r.By, r.Name), "requestor": true}
	if r.roles != "" {
		agent["role"] = []object{words(r.roles)}
	}
	agents := []object{agent}
	if r.Second != "" {
		agents = append(agents, object{"who": person(r.Second, ""), "requestor": false})
	}
	o := object{"type": applicationActivity, "subtype": []object{act}, "action": "E",
		"recorded": r.At.String(), "outcome": "0", "agent": agents,
		"source": object{"observer": object{"display": site(r.Site)}}, "entity": b.entities(r)}
	if r.Refusal != nil {
		o["outcome"] = "4" // minor failure: the act was refused, the system works
		o.text("outcomeDesc", r.Refusal.Text)
	}
	return o
}

// site names where; before the site has a name the log itself stands there.
func site(name string) string {
	if name == "" {
		return "unnamed site"
	}
	return name
}

// entities are the entry with its details, then the pieces and cycles it names.
func (b *bundle) entities(r *entryRow) []object {
	detail := func(kind, value string) object { return object{"type": kind, "valueString": value} }
	details := []object{detail("log-seq", strconv.FormatInt(r.Seq, 10)),
		detail("leaf-hash", r.leaf.String())}
	for _, d := range []struct{ kind, value string }{{"result", r.Result}, {"kit", r.Kit},
		{"kit-number", r.number}, {"phone", r.Phone}, {"phone-time", instant(r.PhoneAt)},
		{"rule", refusal(refusalRule)(r)}, {"events", list(eventNames)(r)},
		{"answers", list(answerTexts)(r)}, {"procedure", list(procedures)(r)},
		{"reason", list(reasons)(r)}} {
		if strings.TrimSpace(d.value) != "" {
			details = append(details, detail(d.kind, d.value))
		}
	}
	all := []object{{"name": "log entry", "detail": details}}
	for _, id := range r.lists[pieceIDs] {
		all = append(all, object{"what": b.refer("Device", id)})
	}
	for _, id := range r.lists[cycleIDs] {
		all = append(all, object{"what": b.refer("Task", id)})
	}
	return all
}

// The kinds of signatures (ASTM E1762-95).
var (
	authorSignature = object{"system": "urn:iso-astm:E1762-95:2013",
		"code": "1.2.840.10065.1.12.1.1", "display": "Author's Signature"}
	verificationSignature = object{"system": "urn:iso-astm:E1762-95:2013",
		"code": "1.2.840.10065.1.12.1.5", "display": "Verification Signature"}
)

// provenance says that somebody signed: name, time and meaning. The mathematics of it is the
// checkpoint's, so the signature has no data of its own.
func (b *bundle) provenance(r *entryRow) object {
	kind, meaning := authorSignature, string(r.Act)
	targets := []object{{"reference": b.address("AuditEvent", seqID(r.Entry))}}
	for _, event := range r.Events {
		if v, ok := event.Event.(reprocess.KitReleased); ok {
			kind, meaning = verificationSignature, v.Meaning
			for _, l := range v.Cycles {
				targets = append(targets, b.refer("Task", l.Cycle))
			}
		}
	}
	return object{"target": targets, "recorded": r.At.String(), "activity": words(meaning),
		"agent": []object{{"who": person(r.By, r.Name)}},
		"signature": []object{{"type": []object{kind}, "when": r.At.String(),
			"who": person(r.By, r.Name)}}}
}

var taskStatus = map[reprocess.CycleEnd]string{reprocess.EndReleased: "completed",
	reprocess.EndBrokenOff: "cancelled"}

func (b *bundle) task(r *cycleRow) object {
	status, ended := taskStatus[r.End]
	if !ended {
		status = "in-progress"
	}
	o := object{"identifier": []object{{"value": r.ID}}, "status": status, "intent": "order",
		"code": words("reprocessing"), "focus": b.refer("Device", r.Piece)}
	period := object{}.text("start", instant(r.Opened)).text("end", instant(r.Ended))
	if len(period) > 0 {
		o["executionPeriod"] = period
	}
	if r.why != "" {
		o["statusReason"] = words(r.why)
	}
	o.text("description", strings.TrimSpace("procedure "+r.Procedure))
	var inputs []object
	for _, id := range strings.Fields(used(func(i reprocess.Interval) []string { return i.Lots })(r)) {
		inputs = append(inputs, object{"type": words("lot of disinfectant"),
			"valueIdentifier": r.lot(id)})
	}
	if cell := answered(reprocess.StepBattery, "cell")(r); cell != "" {
		inputs = append(inputs, object{"type": words("lot of cells"), "valueIdentifier": r.lot(cell)})
	}
	if inputs != nil {
		o["input"] = inputs
	}
	if outputs := r.outputs(); outputs != nil {
		o["output"] = outputs
	}
	return o
}

// lot names a lot by its id and, where it is known, its printed number.
func (r *cycleRow) lot(id string) object {
	o := object{"value": id}
	if l := r.w.Lots[id]; l != nil && l.Number != "" {
		o["type"] = words("printed " + l.Number)
	}
	return o
}

func (r *cycleRow) outputs() []object {
	var all []object
	if r.End != "" {
		all = append(all, object{"type": words("decision"), "valueString": string(r.End)})
	}
	if r.wet {
		all = append(all, object{"type": words("contact time"), "valueQuantity": object{
			"value": json.Number(r.contact()), "unit": "s", "system": "http://unitsofmeasure.org",
			"code": "s"}})
	}
	return all
}

func (b *bundle) device(w *reprocess.World, id string) object {
	ids := []object{{"value": id}}
	o := object{}
	if p := w.Pieces[id]; p != nil {
		o["status"] = "active"
		if p.State == reprocess.Retired {
			o["status"] = "inactive"
		}
		o.text("serialNumber", p.Serial)
		if p.UDI != "" {
			o["udiCarrier"] = []object{{"carrierHRF": p.UDI}}
		}
		if p.Kind != "" {
			o["type"] = words(string(p.Kind))
		}
		if m := w.Models[p.Model]; m != nil && m.Name != "" {
			o["deviceName"] = []object{{"name": m.Name, "type": "model-name"}}
		}
		if k := w.Kits[p.Kit]; k != nil && slices.Contains(k.Pieces, id) && k.Number != "" {
			ids = append(ids, object{"type": words("pool number"), "value": k.Number})
		}
	}
	o["identifier"] = ids
	return o
}
