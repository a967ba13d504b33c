package ledger

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Head is the newest entry of one device: how many entries the device has and the leaf hash
// of the last. An inclusion proof shows that an entry is in the log; only a head shows that
// none was held back.
type Head struct {
	Kit  string
	Seq  int64 // kit_seq of the newest entry
	Leaf Hash  // leaf hash of the newest entry
}

// body is the leaf of the roll call's tree, canonical bytes without a line end:
//
//	{"kit":"K-0042","kit_seq":12,"leaf":"6e340b9c…"}
func (h Head) body() ([]byte, error) {
	b := []byte(`{"kit":"` + h.Kit + `","kit_seq":` + strconv.FormatInt(h.Seq, 10) +
		`,"leaf":"` + h.Leaf.String() + `"}`)
	if h.Kit == "" || h.Seq < 1 || strings.ContainsAny(h.Kit, `"\`) || Check(b) != nil {
		return nil, fmt.Errorf("%q cannot stand in a roll call", clip(h.Kit))
	}
	return b, nil
}

// rollLeaves gives the leaf hashes in ascending byte order of the device, each once.
func rollLeaves(heads []Head) ([]Head, []Hash, error) {
	sorted := slices.SortedFunc(slices.Values(heads), func(a, b Head) int {
		return strings.Compare(a.Kit, b.Kit)
	})
	leaves := make([]Hash, len(sorted))
	for i, h := range sorted {
		if i > 0 && sorted[i-1].Kit == h.Kit {
			return nil, nil, fmt.Errorf("device %s stands twice in a roll call", h.Kit)
		}
		body, err := h.body()
		if err != nil {
			return nil, nil, err
		}
		leaves[i] = LeafHash(body)
	}
	return sorted, leaves, nil
}

// RollRoot is the root of the roll call over these heads, in whatever order they come. The
// roll call of entry N covers the devices' entries before N. About 1 microsecond a device.
func RollRoot(heads []Head) (Hash, error) {
	_, leaves, err := rollLeaves(heads)
	var t Tree
	for _, l := range leaves {
		t.Add(l)
	}
	return t.Root(), err
}

// RollProof shows that a head stands in a roll call of Size devices.
type RollProof struct {
	Head
	Index int64 // of the device in the sorted list, from 0
	Size  int64 // devices in the roll call
	Path  []Hash
}

// ProveHead makes the proof for one device.
func ProveHead(heads []Head, kit string) (RollProof, error) {
	sorted, leaves, err := rollLeaves(heads)
	if err != nil {
		return RollProof{}, err
	}
	at := slices.IndexFunc(sorted, func(h Head) bool { return h.Kit == kit })
	if at < 0 {
		return RollProof{}, fmt.Errorf("device %s is not in the roll call", clip(kit))
	}
	var t Tree
	var nodes []Hash
	for _, l := range leaves {
		nodes = append(nodes, l)
		t.add(l, func(h Hash) { nodes = append(nodes, h) })
	}
	path, err := ProveEntry(int64(at)+1, t.Size(), func(indexes []int64) (hs []Hash, _ error) {
		for _, i := range indexes {
			hs = append(hs, nodes[i])
		}
		return hs, nil
	})
	return RollProof{Head: sorted[at], Index: int64(at), Size: t.Size(), Path: path}, err
}

// Check checks the proof against the root of the roll call.
func (p RollProof) Check(root Hash) error {
	body, err := p.body()
	if err != nil {
		return err
	}
	if CheckEntry(p.Path, p.Index+1, LeafHash(body), p.Size, root) != nil {
		return fmt.Errorf("the head of device %s is not proved to be in the roll call", p.Kit)
	}
	return nil
}

// Roll follows the devices' own chains through the log: for each its head so far.
type Roll map[string]Head

// Add takes the next entry. The device's entries must be numbered from 1 without gaps and each
// must quote the leaf hash of the one before. In a part of the log entries may be missing:
// then only the order is held, and the hash where the one before is present.
func (r Roll) Add(e Envelope, leaf Hash, part bool) error {
	if e.Kit == "" {
		return nil
	}
	last, known := r[e.Kit]
	switch {
	case e.KitSeq <= last.Seq:
		return fmt.Errorf("entry %d: it is number %d of device %s, which already has %d",
			e.Seq, e.KitSeq, e.Kit, last.Seq)
	case !part && e.KitSeq != last.Seq+1:
		return fmt.Errorf("entry %d: it is number %d of device %s, of which only %d came before",
			e.Seq, e.KitSeq, e.Kit, last.Seq)
	case known && e.KitSeq == last.Seq+1 && *e.KitPrev != last.Leaf:
		return fmt.Errorf("entry %d: it does not quote the entry of device %s before it",
			e.Seq, e.Kit)
	}
	r[e.Kit] = Head{Kit: e.Kit, Seq: e.KitSeq, Leaf: leaf}
	return nil
}

// Heads lists the heads so far, by device.
func (r Roll) Heads() []Head {
	heads := make([]Head, 0, len(r))
	for _, kit := range slices.Sorted(maps.Keys(r)) {
		heads = append(heads, r[kit])
	}
	return heads
}

// RollCalled is what the entry of a roll call records, as the data of its one event named
// "roll_called": {"kits":3,"root":"<64 hex digits>"}.
type RollCalled struct {
	Kits int64
	Root Hash
}

// ReadRollCalled finds the roll call in checked entry bytes; nil if the entry is none.
// encoding/json may read them because Check has refused doubled names and capitals.
func ReadRollCalled(body []byte) (*RollCalled, error) {
	if !bytes.Contains(body, []byte(`"roll_called"`)) {
		return nil, nil
	}
	var e struct {
		Result string
		Events []struct {
			Event string
			Data  json.RawMessage
		}
	}
	if err := json.Unmarshal(body, &e); err != nil {
		return nil, nil // the word stands somewhere else in an entry of another shape
	}
	for _, ev := range e.Events {
		if ev.Event == "roll_called" && e.Result == "done" {
			return readRollData(ev.Data)
		}
	}
	return nil, nil
}

func readRollData(data []byte) (*RollCalled, error) {
	var d struct {
		Kits int64
		Root string
	}
	if json.Unmarshal(data, &d) != nil || d.Kits < 0 {
		return nil, errors.New("the roll call is not readable")
	}
	root, err := ParseHash(d.Root)
	return &RollCalled{Kits: d.Kits, Root: root}, err
}
