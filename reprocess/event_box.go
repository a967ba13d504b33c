package reprocess

import (
	"bytes"
	"encoding/json"
	"fmt"
)

// Box carries one event in an entry as {"data":{...},"event":"name"}.
type Box struct{ Event Event }

type boxJSON struct {
	Event string          `json:"event"`
	Data  json.RawMessage `json:"data"`
}

// MarshalJSON writes the name and the facts.
func (b Box) MarshalJSON() ([]byte, error) {
	data, err := json.Marshal(b.Event)
	if err != nil {
		return nil, err
	}
	return json.Marshal(boxJSON{b.Event.EventName(), data})
}

// asWritten reads the one form that entries have, {"data":...,"event":"name"}, without going
// through the facts once more to find their end: if what stands between reads as the facts of
// that event and nothing else, it is they. Whatever is not so is left to the slow way.
func (b *Box) asWritten(in []byte) bool {
	rest, ok := bytes.CutPrefix(in, []byte(`{"data":`))
	at := bytes.LastIndex(rest, []byte(`,"event":"`))
	if !ok || at < 0 {
		return false
	}
	name, ok := bytes.CutSuffix(rest[at+len(`,"event":"`):], []byte(`"}`))
	read := eventReaders[string(name)]
	if !ok || read == nil {
		return false
	}
	e, err := read(rest[:at])
	if err == nil {
		b.Event = e
	}
	return err == nil
}

// UnmarshalJSON reads a known event; an unknown name or field is an error.
func (b *Box) UnmarshalJSON(in []byte) error {
	if b.asWritten(in) {
		return nil
	}
	var j boxJSON
	if err := json.Unmarshal(in, &j); err != nil {
		return err
	}
	read, ok := eventReaders[j.Event]
	if !ok {
		return fmt.Errorf("this program does not know the event %q; a newer one wrote it", j.Event)
	}
	e, err := read(j.Data)
	if err != nil {
		return fmt.Errorf("event %s: %w", j.Event, err)
	}
	b.Event = e
	return nil
}
