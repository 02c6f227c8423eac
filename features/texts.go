package features

// Sources that rows of several groups name.
const (
	practice     = "common practice"
	welch1967    = "the spectrum: Welch 1967, doi 10.1109/TAU.1967.1161901"
	shannon1948  = "Shannon 1948, doi 10.1002/j.1538-7305.1948.tb01338.x, of a distribution; applied to a spectrum"
	gray1974     = "Gray and Markel 1974, doi 10.1109/TASSP.1974.1162572 (from memory)"
	ours         = "ours"
	liu2016      = "Liu et al. 2016, Physiol Meas 37:2181, doi 10.1088/0967-3334/37/12/2181"
	richman2000  = "Richman and Moorman 2000, Am J Physiol 278:H2039, doi 10.1152/ajpheart.2000.278.6.H2039"
	springer2016 = "after Springer et al. 2016, J Med Eng Technol 40:342 (from memory)"
)

// Reasons for a null that rows of several groups give.
const (
	never           = "never"
	ofShortState    = "the state is shorter than 40 ms or silent (RMS of y below 1e-9 FS)"
	emptyRecording  = "the recording is empty"
	silentRecording = "the recording is empty or silent (RMS of y below 1e-9 FS)"
)
