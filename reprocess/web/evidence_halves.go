package web

import (
	"errors"

	"handback/reprocess"
	"handback/reprocess/recording"
	"handback/reprocess/sqlite"
)

// joinHalves puts header and signal file of a WFDB record in their places, whichever came
// first. The other one is the upload named, else the newest of the kit that is the other half
// and no test used yet; without one the page asks for it.
func (x *view) joinHalves(j *judgedDraft, pair string) error {
	have := recording.HalfOf(j.content)
	other, content, err := x.otherHalf(j.draft.ID, pair, have)
	if err != nil {
		return err
	}
	if other == nil {
		return halfMissing(have)
	}
	if have == recording.HeaderHalf {
		j.pair, j.signal = other, content
		return nil
	}
	first := j.draft
	j.pair, j.signal = &first, j.content
	j.draft, j.content = *other, content
	return nil
}

// otherHalf finds the counterpart; nil when there is none.
func (x *view) otherHalf(id, pair string, have recording.Half) (*sqlite.Draft, []byte, error) {
	want := recording.SignalHalf
	if have == recording.SignalHalf {
		want = recording.HeaderHalf
	}
	ids := []string{pair}
	if pair == "" {
		list, err := x.v.Store().Drafts(x.v.Context(), x.k.ID)
		if err != nil {
			return nil, nil, err
		}
		ids = nil
		for _, d := range list {
			if d.ID != id && d.Whole() && !x.usedInCycle(d.SHA256) {
				ids = append(ids, d.ID)
			}
		}
	}
	for _, other := range ids {
		d, content, err := x.v.Store().ReadDraft(x.v.Context(), x.k.ID, other)
		if err != nil {
			return nil, nil, err
		}
		if recording.HalfOf(content) == want {
			return &d, content, nil
		}
	}
	return nil, nil, nil
}

// halfMissing asks for the signal file. A signal file alone cannot be told from any other
// unreadable bytes: it is judged as such, and its sentence says what else it may be.
func halfMissing(have recording.Half) error {
	if have == recording.SignalHalf {
		return nil
	}
	return &reprocess.Problem{Code: reprocess.Refused, Rule: "half_recording",
		Text: "This is the header (.hea) of a recording in two files; its signal file is missing.",
		Fix:  "Upload the .dat file beside it too, or export the recording as EDF."}
}

// dropDrafts forgets every upload behind a file.
func (x *view) dropDrafts(j judgedDraft) error {
	err := x.v.Store().DropDraft(x.v.Context(), j.draft.ID)
	if j.pair != nil {
		err = errors.Join(err, x.v.Store().DropDraft(x.v.Context(), j.pair.ID))
	}
	return err
}
