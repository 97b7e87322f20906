package matter

// SeeSheet stands where the tables know nothing better.
const SeeSheet = "see the safety data sheet"

// A Measure is one way to stay safe with a substance, with what it rests on.
type Measure struct {
	What     string // "gloves", "eyes", "first aid" or "disposal"
	Text     string
	Source   string
	Standing string
}

// Measures returns gloves, eye protection, first aid and disposal, in that
// order, none empty. A row read in a source says so of its first aid and
// disposal only: no glove chart was read, so every glove is from memory, and eye
// protection follows the hazard codes.
func (b Band) Measures() []Measure {
	return []Measure{
		{"gloves", b.Gloves, "", "from memory"},
		{"eyes", b.Eyes, "", practice},
		{"first aid", b.FirstAid, b.Source, b.Standing},
		{"disposal", b.Disposal, b.Source, b.Standing},
	}
}
