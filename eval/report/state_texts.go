package report

import "phonocycle/pipeline/pcg"

// stateText explains one state of the cycle to students.
type stateText struct {
	State         string
	Name, Short   string
	Valves, Blood string
	Sound         string
}

var stateTexts = []stateText{
	{
		State: pcg.S1.String(), Name: "S1, the first heart sound", Short: "lub",
		Valves: "The ventricles start to contract. When the pressure in them exceeds that in the atria, the mitral valve (left) and the tricuspid valve (right) close.",
		Blood:  "For a short time no blood flows: the valves between atria and ventricles have just closed, and those to the arteries are not yet open.",
		Sound:  "The blood is stopped suddenly, and heart and vessels vibrate. S1 is longer and lower in pitch than S2, and loudest near the apex of the heart.",
	},
	{
		State: pcg.Systole.String(), Name: "Systole", Short: "the short pause",
		Valves: "The aortic valve (left) and the pulmonary valve (right) are open. The mitral and the tricuspid valve are closed.",
		Blood:  "The ventricles pump blood out: the left one through the aorta to the body, the right one through the pulmonary artery to the lungs. The atria fill.",
		Sound:  "Smooth flow makes almost no sound. The length of systole changes less with the heart rate than that of diastole.",
	},
	{
		State: pcg.S2.String(), Name: "S2, the second heart sound", Short: "dub",
		Valves: "The ventricles relax. When the pressure in them falls below that in the arteries, the aortic valve closes, and a moment later the pulmonary valve.",
		Blood:  "Blood in the arteries is stopped by the closed valves. For a short time no blood flows into the ventricles either.",
		Sound:  "S2 is shorter and higher in pitch than S1. During inspiration its two parts move apart by 20 to 40 ms; a trained ear hears two sounds.",
	},
	{
		State: pcg.Diastole.String(), Name: "Diastole", Short: "the long pause",
		Valves: "The mitral and the tricuspid valve are open. The aortic and the pulmonary valve are closed.",
		Blood:  "Blood flows from the atria into the ventricles; near the end the atria contract and fill them completely. The heart muscle itself receives most of its blood now.",
		Sound:  "At rest this is the longest part of the cycle. When the heart beats faster, diastole shortens most.",
	},
}
