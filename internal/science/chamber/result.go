package chamber

import (
	"time"

	"aerugo/internal/science"
	"aerugo/internal/science/film"
)

// Air is the air under the lid at one time, and the pad below it.
type Air struct {
	At       time.Duration
	NH3, H2O science.Pascal
	Strength float64 // of what is left on the pad, mass fraction
	PadG     float64 // what is left on it
}

// Share returns ammonia's share of the air by volume, 0 to 1, at one standard
// atmosphere.
func (a Air) Share() float64 { return float64(a.NH3) / atmosphere }

// PPM returns the same in parts per million by volume.
func (a Air) PPM() float64 { return 1e6 * a.Share() }

// Ledger follows one substance through a run, in g. What was there or brought in
// equals what is left and what went out.
type Ledger struct {
	Start  float64 // on the pad and in the air when the lid closed
	In     float64 // brought in by wet faces and by the room's air
	Pad    float64 // left on the pad
	Air    float64 // left under the lid
	Films  float64 // on the faces still inside
	Leaked float64 // went out through the closed lid
	Opened float64 // went out through the open one
	Out    float64 // went out on faces
}

// Miss returns what is unaccounted for, as a share of what came in.
func (l Ledger) Miss() float64 {
	in := l.Start + l.In
	if in == 0 {
		return 0
	}
	return (in - l.Pad - l.Air - l.Films - l.Leaked - l.Opened - l.Out) / in
}

// Film is the liquid on a face at one time.
type Film struct {
	At          time.Duration
	WaterGPerM2 float64
	Share       float64 // of the salt that has dissolved, 0 to 1
	FilmGPerM2  float64 // water, dissolved salt and ammonia
}

// FaceResult is what became of a face.
type FaceResult struct {
	Face
	Dissolved   bool          // whether all salt dissolved while it was inside
	DissolvedAt time.Duration // since the lid closed
	WetTime     time.Duration // inside the chamber with all salt dissolved
	End         Film          // when it came out, or the run ended
	Series      []Film
	AmmoniaGM2  float64 // in the film at the end
}

// PieceResult is what became of a piece.
type PieceResult struct {
	Piece
	Dew   bool // colder than the bath, it gathered water even where there was no salt
	Faces []FaceResult
	bare  *film.Brine // what would gather there without salt
}

// RH returns the humidity of that air at the piece, 0 to 1, above 1 where plain
// dew falls. Ammonia dissolves in dew, so that it falls a little earlier.
func (p PieceResult) RH(a Air) float64 { return float64(a.H2O / p.bare.Over(0).H2O) }

// Result is a run of a chamber.
type Result struct {
	Series         []Air // in order of time; two at one time where the lid was lifted
	Pieces         []PieceResult
	Halved         bool          // whether ammonia's pressure fell to half in the run
	HalvedAt       time.Duration // when it did
	PadDry         bool          // whether the pad ran out of water; the run ends there
	K              float64       // m/s
	Ammonia, Water Ledger
}
