package features

// Sources that rows of several groups name.
const (
	practice     = "common practice"
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
