// Package ecg finds the R waves of an electrocardiogram (ECG), and says where they
// can be trusted.
//
// The R wave is the steep deflection with which the ventricles are excited. They
// begin to contract some tens of milliseconds later, and S1 sounds: an ECG that
// was recorded with the sound tells where S1 must be, and owes nothing to any
// algorithm that listens.
//
// # Two detectors and their agreement
//
// No detector is right on every recording, but two of different kind seldom make
// the same error. [Detect] runs that of Pan and Tompkins 1985, which thresholds
// the energy of the slope of a band (pan_tompkins.go), and the length transform
// of Zong, Moody and Jiang 2003, which measures how long the drawn curve is
// (length_transform.go). An R wave counts where both find it within [Tolerance].
// The share of agreement,
//
//	beats that both find / (beats that both find + beats that one finds alone),
//
// is the quality index bSQI of Li, Mark and Clifford 2008 (Physiol Meas 29:15, doi
// 10.1088/0967-3334/29/1/002), there within 150 ms and for windows of 10 s, here
// within 60 ms and for a recording.
//
// # Where an R wave lies
//
// Each detector marks a QRS complex (the R wave with its neighbours Q and S) to
// some tens of milliseconds. The R wave is then placed to the sample, the same way
// for both: at the extremum, within [searchReach] of the mark, of the ECG in the
// band from 5 to 30 Hz, filtered without delay. That band holds most of the QRS
// complex and little of baseline wander and mains hum. The extremum is a maximum
// or a minimum, whichever is larger in most beats of the recording: were the choice
// made for each beat, then in a lead whose R and S are equally tall it would jump
// from one to the other, and the time to S1 with it.
//
// # Input
//
// The unit of the samples does not matter: they are scaled by the largest. Filters
// are designed for the rate at hand, so that nothing is resampled; samples that are
// not finite, as WFDB has them where nothing was recorded, are bridged by a straight
// line, and no beat is certain there.
package ecg
