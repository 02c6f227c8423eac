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

// siteGains are the gains of M1, T1, A2, P2 and S3 at a site, relative to the
// heart's. They follow the common textbook picture: S2 is the louder sound at
// the base (aortic and pulmonary), S1 at the apex (mitral); P2 is heard at the
// pulmonary site and hardly elsewhere; S3 is heard at the apex. The figures are
// a choice of ours.
var siteGains = map[Site][5]float64{
	Aortic:    {0.65, 0.5, 1.4, 0.5, 0.2},
	Pulmonary: {0.65, 0.6, 1.2, 1.5, 0.2},
	Tricuspid: {0.9, 1.2, 0.9, 0.8, 0.6},
	Mitral:    {1.1, 0.8, 0.9, 0.4, 1},
}

// awayGain is the gain of a murmur away from the site where it is loudest.
const awayGain = 0.4

// applyTo sets the gains of a heart as heard at the site.
func (s Site) applyTo(h *Heart) {
	for i, c := range h.components() {
		c.Gain *= siteGains[s][i]
	}
}
