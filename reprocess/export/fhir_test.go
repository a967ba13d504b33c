package export

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"handback/reprocess/ledger"
)

// Sources: HL7's JSON schema of R4 (testdata/fhir); the table below for what that schema cannot
// demand (it lets an extension stand for any primitive): elements of cardinality 1..1 and 1..*
// in the R4 resource definitions, hl7.org/fhir/R4.

// mandatory lists elements by resource; a dot goes into an object or each of a list.
var mandatory = map[string][]string{
	"Bundle":     {"type"},
	"Device":     {},
	"Task":       {"status", "intent", "input.type", "output.type"},
	"AuditEvent": {"type", "recorded", "agent.requestor", "source.observer", "entity.detail.type"},
	"Provenance": {"target", "recorded", "agent.who", "signature.type", "signature.when",
		"signature.who"},
}

// missing lists the mandatory elements that are not there.
func missing(kind string, v any) (faults []string) {
	for _, path := range mandatory[kind] {
		if !reaches(v, strings.Split(path, "."), true) {
			faults = append(faults, kind+" misses "+path)
		}
	}
	return faults
}

// reaches: an absent element on the way is allowed but at the end (and of a resource's own).
func reaches(v any, path []string, top bool) bool {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			if !reaches(item, path, top) {
				return false
			}
		}
		return true
	case map[string]any:
		next, ok := v[path[0]]
		if len(path) == 1 {
			return ok
		}
		return !ok || reaches(next, path[1:], false)
	}
	return false
}

// emptiness lists what FHIR forbids everywhere and the schema does not: empty lists, objects
// and strings, and null.
func emptiness(at string, v any) (faults []string) {
	switch v := v.(type) {
	case nil:
		return []string{at + " is null"}
	case string:
		if strings.TrimSpace(v) == "" {
			return []string{at + " is empty"}
		}
	case []any:
		if len(v) == 0 {
			return []string{at + " is empty"}
		}
		for i, item := range v {
			faults = append(faults, emptiness(fmt.Sprintf("%s[%d]", at, i), item)...)
		}
	case map[string]any:
		if len(v) == 0 {
			return []string{at + " is empty"}
		}
		for name, item := range v {
			faults = append(faults, emptiness(at+"."+name, item)...)
		}
	}
	return faults
}

func faultsOf(s *schema, bundle map[string]any) (faults []string) {
	faults = s.check("Bundle", s.definitions["Bundle"].(map[string]any), bundle)
	faults = append(faults, missing("Bundle", bundle)...)
	faults = append(faults, emptiness("Bundle", bundle)...)
	addresses := map[string]bool{}
	entries, _ := bundle["entry"].([]any)
	for _, e := range entries {
		r, _ := e.(map[string]any)["resource"].(map[string]any)
		faults = append(faults, missing(fmt.Sprint(r["resourceType"]), r)...)
		address := fmt.Sprint(e.(map[string]any)["fullUrl"])
		if addresses[address] {
			faults = append(faults, address+" stands twice")
		}
		addresses[address] = true
	}
	for _, to := range references(bundle) {
		if !addresses[to] {
			faults = append(faults, to+" leads nowhere")
		}
	}
	return faults
}

func references(v any) (all []string) {
	switch v := v.(type) {
	case []any:
		for _, item := range v {
			all = append(all, references(item)...)
		}
	case map[string]any:
		for name, item := range v {
			if to, ok := item.(string); ok && name == "reference" {
				all = append(all, to)
			}
			all = append(all, references(item)...)
		}
	}
	return all
}

func bundleOf(t testing.TB, text string, c Choice) map[string]any {
	t.Helper()
	var b bytes.Buffer
	n, err := WriteFHIR(&b, "site/1", lines([]byte(text)), c)
	require.NoError(t, err)
	var v map[string]any
	require.NoError(t, json.Unmarshal(b.Bytes(), &v), b.String())
	entries, _ := v["entry"].([]any)
	require.Len(t, entries, int(n))
	return v
}

// refusedAndSigned adds what the day of the other tests has not.
func refusedAndSigned() string {
	l := day()
	text := strings.Replace(l.String(), `"by":"S5"`, `"signed":true,"second":"S2","phone":"PH1","by":"S5"`, -1)
	return text + `{"seq":17,"at":"2027-05-10T08:51:00.000Z","site":"","act":"release","result":"refused",` +
		`"by":"S2","name":"","refusal":{"code":"refused","rule":"steps","text":"Not yet.","fix":"Do it."}}` + "\n"
}

func TestBundlesFollowTheSchema(t *testing.T) {
	s := loadSchema(t, readTestdata(t, "fhir", "r4-subset.schema.json"))
	for _, text := range []string{string(frozen(t, "entries.ndjson")), refusedAndSigned(), ""} {
		require.Empty(t, faultsOf(s, bundleOf(t, text, Choice{})))
		require.Empty(t, faultsOf(s, bundleOf(t, text, Choice{Kit: "K1"})))
	}
	all := strings.SplitAfter(refusedAndSigned(), "\n")
	require.Empty(t, faultsOf(s, bundleOf(t, strings.Join(all[7:], ""), Choice{})), "a part")
}

func resources(bundle map[string]any, kind string) (list []map[string]any) {
	for _, e := range bundle["entry"].([]any) {
		r := e.(map[string]any)["resource"].(map[string]any)
		if r["resourceType"] == kind {
			list = append(list, r)
		}
	}
	return list
}

// TestBundleSaysWhatHappened: counts and a few values by hand from the day.
func TestBundleSaysWhatHappened(t *testing.T) {
	text := refusedAndSigned()
	b := bundleOf(t, text, Choice{})
	require.Len(t, resources(b, "AuditEvent"), 17)
	require.Len(t, resources(b, "Provenance"), 2)
	require.Len(t, resources(b, "Task"), 2)
	require.Len(t, resources(b, "Device"), 2)
	task := resources(b, "Task")[0]
	require.Equal(t, "completed", task["status"])
	require.Equal(t, "cancelled", resources(b, "Task")[1]["status"])
	require.Equal(t, map[string]any{"value": 65.0, "unit": "s", "code": "s",
		"system": "http://unitsofmeasure.org"},
		task["output"].([]any)[1].(map[string]any)["valueQuantity"])
	require.Len(t, task["input"], 3, "two lots of disinfectant, one of cells")
	last := resources(b, "AuditEvent")[16]
	require.Equal(t, "4", last["outcome"])
	require.Equal(t, "Not yet.", last["outcomeDesc"])
	body := strings.TrimSuffix(strings.SplitAfter(text, "\n")[16], "\n")
	details := last["entity"].([]any)[0].(map[string]any)["detail"].([]any)
	require.Equal(t, map[string]any{"type": "log-seq", "valueString": "17"}, details[0])
	require.Equal(t, map[string]any{"type": "leaf-hash",
		"valueString": ledger.LeafHash([]byte(body)).String()}, details[1])
	require.Equal(t, "0042", resources(b, "Device")[0]["serialNumber"])
	require.Len(t, resources(bundleOf(t, text, Choice{Kit: "K1"}), "AuditEvent"), 15)
}

// TestSchemaCheckFindsFaults: the check itself is shown to fail, once for each kind of fault.
func TestSchemaCheckFindsFaults(t *testing.T) {
	s := loadSchema(t, readTestdata(t, "fhir", "r4-subset.schema.json"))
	text, err := json.Marshal(bundleOf(t, refusedAndSigned(), Choice{}))
	require.NoError(t, err)
	for fault, change := range map[string][2]string{
		"unknown property": {`"intent":`, `"intend":`},
		"wrong code":       {`"status":"completed"`, `"status":"complete"`},
		"wrong type":       {`"requestor":true`, `"requestor":"true"`},
		"no observer":      {`"observer":`, `"observed":`},
		"no recorded":      {`"recorded":"2027-05-10T08:51:00.000Z",`, ``},
		"time without zone": {`"recorded":"2027-05-10T08:51:00.000Z"`,
			`"recorded":"2027-05-10T08:51:00"`},
		"no target":    {`"target":`, `"aim":`},
		"empty string": {`"valueString":"17"`, `"valueString":""`},
		"id with a _":  {`"id":"E1"`, `"id":"E_1"`},
		"dangling":     {`"reference":"urn:uuid:`, `"reference":"urn:uuid:0`},
		"another kind": {`"resourceType":"Device"`, `"resourceType":"Device2"`},
		"bundle type":  {`"type":"collection"`, `"type":"collected"`},
		"no intent":    {`"intent":"order",`, ``},
		"null":         {`"intent":"order"`, `"intent":null`},
		"empty list":   {`"role":[{"text":"release technician"}]`, `"role":[]`},
	} {
		damaged := strings.Replace(string(text), change[0], change[1], 1)
		require.NotEqual(t, string(text), damaged, fault)
		var v map[string]any
		require.NoError(t, json.Unmarshal([]byte(damaged), &v), fault)
		require.NotEmpty(t, faultsOf(s, v), fault)
	}
	twice := bundleOf(t, refusedAndSigned(), Choice{})
	twice["entry"] = append(twice["entry"].([]any), twice["entry"].([]any)[0])
	require.NotEmpty(t, faultsOf(s, twice), "one address twice")
}

// TestAddressesBelongToTheLog: the same entry of two logs is two things.
func TestAddressesBelongToTheLog(t *testing.T) {
	a, b := bundle{origin: "site/1"}, bundle{origin: "site/2"}
	require.Equal(t, a.address("Task", "C1"), a.address("Task", "C1"))
	require.NotEqual(t, a.address("Task", "C1"), b.address("Task", "C1"))
	require.NotEqual(t, a.address("Task", "C1"), a.address("Device", "C1"))
	require.Regexp(t, `^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-8[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`,
		a.address("Task", "C1"))
}

func TestBundleStopsAtFaults(t *testing.T) {
	var b bytes.Buffer
	_, err := WriteFHIR(&b, "o", lines([]byte("{\n")), Choice{})
	require.ErrorContains(t, err, "cannot be read")
	_, err = WriteFHIR(full{}, "o", lines(frozen(t, "entries.ndjson")), Choice{})
	require.Error(t, err)
}
