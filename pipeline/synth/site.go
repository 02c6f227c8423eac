package synth

// Site is where on the chest a recording is made: one of the four areas of
// auscultation, each named after the valve that is heard best there.
type Site string

// The sites.
const (
	Aortic    Site = "aortic"
	Pulmonary Site = "pulmonary"
	Tricuspid Site = "tricuspid"
	Mitral    Site = "mitral"
)

// Sites lists the sites.
func Sites() []Site { return []Site{Aortic, Pulmonary, Tricuspid, Mitral} }

// loudness holds the gains of the components at a site, relative to the heart's.
type loudness struct{ m1, t1, a2, p2, s3 float64 }

// siteLoudness follows the common textbook picture: S2 is the louder sound at
// the base (aortic and pulmonary), S1 at the apex (mitral); P2 is heard at the
// pulmonary site and hardly elsewhere; S3 is heard at the apex. The figures are
// a choice of ours.
var siteLoudness = map[Site]loudness{
	Aortic:    {m1: 0.65, t1: 0.5, a2: 1.4, p2: 0.5, s3: 0.2},
	Pulmonary: {m1: 0.65, t1: 0.6, a2: 1.2, p2: 1.5, s3: 0.2},
	Tricuspid: {m1: 0.9, t1: 1.2, a2: 0.9, p2: 0.8, s3: 0.6},
	Mitral:    {m1: 1.1, t1: 0.8, a2: 0.9, p2: 0.4, s3: 1},
}

// awayGain is the gain of a murmur away from the site where it is loudest.
const awayGain = 0.4

// applyTo sets the gains of a heart as heard at the site.
func (s Site) applyTo(h *Heart) {
	l := siteLoudness[s]
	h.M1.Gain *= l.m1
	h.T1.Gain *= l.t1
	h.A2.Gain *= l.a2
	h.P2.Gain *= l.p2
	h.S3.Gain *= l.s3
}
