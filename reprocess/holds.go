package reprocess

// Reason is one row of a list of reasons, for holds and for waiting.
type Reason struct {
	ID, Words string
	Grade     Grade // of holds only
}

// holdReasons are what can put a piece on hold; answers of steps use the same ids.
var holdReasons = []Reason{
	{"swollen", "cell swollen or leaking", GradeHold},
	{"cracked", "housing cracked", GradeHold},
	{"crack", "crack found at inspection", GradeHold},
	{"crazed", "crazed or clouded", GradeHold},
	{"seal", "seal lifted or swollen", GradeHold},
	{"fluid_inside", "fluid or blood inside", GradeHold},
	{"skin_broken", "skin blistered, broken or weeping under it", GradeInfection},
	{"stop_flag", "precautions that allow no routine cycle", GradeInfection},
	{"cycle_limit", "the maker's number of cycles is reached", GradeHold},
	{"failed_twice", "the function test failed again the same way", GradeTechnician},
	{"fault", "fault told by the wearer", GradeTechnician},
	{"check_failed", "a technical check failed", GradeHold},
	{"infestation", "infestation, faeces or chemicals", GradeInfection},
	{ReasonWarned, "named in a warning of the maker", GradeHold},
	{ReasonFoundLoose, "found after another took its place: whose hands it was in is not known", GradeHold},
	{"called_back", "called back from the wearer", GradeInfection},
	{"other", "another reason", GradeHold},
}

// HoldReasons lists the reasons a person can choose.
func HoldReasons() []Reason { return holdReasons }

// HoldWords is a reason in words; an unknown one is shown as it is written.
func HoldWords(id string) string { return wordsIn(holdReasons, id) }

func holdReason(id string) (Reason, bool) { return reasonIn(holdReasons, id) }

// reasonIn finds a reason in a list by its id; false: it is not there.
func reasonIn(list []Reason, id string) (Reason, bool) {
	for _, r := range list {
		if r.ID == id {
			return r, true
		}
	}
	return Reason{}, false
}

// waitReasons are why a kit stands still without being on hold.
var waitReasons = []Reason{
	{ID: "charging", Words: "charging"},
	{ID: "locked_phone", Words: "locked phone"},
	{ID: "part", Words: "a part to come"},
	{ID: "reading", Words: "the reading"},
	{ID: "infection_control", Words: "infection control"},
	{ID: "technician", Words: "a technician"},
	{ID: "wearer", Words: "the wearer"},
	{ID: "other", Words: "something else"},
}

// WaitReasons lists the waiting reasons a person can choose.
func WaitReasons() []Reason { return waitReasons }

// WaitWords is a waiting reason in words.
func WaitWords(id string) string { return wordsIn(waitReasons, id) }

// wordsIn is a reason of a list in words; one that is not in it is shown as it is written.
func wordsIn(list []Reason, id string) string {
	if r, ok := reasonIn(list, id); ok {
		return r.Words
	}
	return id
}
