// Package study compares methods over data sets, designs and conditions, as one file
// says.
//
// # The file
//
//	title: Two methods under noise
//	data-sets:
//	  - {name: circor, folder: circor, layout: circor}
//	  - {name: ecg of cinc2016, folder: cinc2016, layout: cinc2016, reference: ecg}
//	methods:
//	  - {name: liang-1997, config: liang-1997}
//	  - {name: logistic-hsmm, method: logistic-hsmm}
//	  - {name: less weight, method: logistic-hsmm, options: {temper: 0.25}, fit: {context: 1}}
//	  - {name: my method, method: ./my-method.yaml}
//	conditions:
//	  - clean
//	  - noise=pink,snr=5
//	designs:
//	  - {name: circor, cross-validate: circor}
//	  - {name: ecg, fit-on: circor, score-on: ecg of cinc2016, conditions: [clean]}
//	  - {name: ecg with the built-in models, model: builtin, score-on: ecg of cinc2016, methods: [logistic-hsmm]}
//
// A data set has a folder and a layout (a name, or a YAML file), and optionally the name
// of a reference of the layout (the first by default), a list of people and one of
// recordings, as run takes them, and follow-links.
//
// A method is a built-in one or the file of a program (method), or a run configuration
// (config), of which method, model, options, fit, channel, most-people and the limits of
// durations and time count. The keys options and fit replace single options. The key
// model names the model for designs with model: builtin.
//
// A condition is a list of changes as package degrade reads them, or clean for the audio
// as it is, which is the only one where the key is missing. Write one in each line, or in
// quotes, since it may hold commas. Folders of recorded noise are named as seen from where
// the command is run. condition-seed is the seed of all.
//
// A design is one of three. It is a column of the tables.
//
//   - cross-validate: the methods are fitted in folds by person on a data set and scored
//     on it. folds and fold-seed are as in crossval.
//   - fit-on and score-on: the methods are fitted once on one data set and scored on another.
//   - model: builtin and score-on: the methods are scored with their built-in models.
//
// The key reference of a design names another reference to score against;
// training-overlap says what happens to people of the training data (refuse, leave-out,
// score). methods and conditions restrict a design to some of those of the study. A method
// without parameters is not fitted in any design.
//
// The key scoring holds anchor, tolerance, resamples, seed and strata, as in a run
// configuration. They are those of all cells. Labels under strata split the scores where a
// data set has them; an empty list splits none.
//
// Relative paths begin at the folder of the file, and folders of data sets in the one that
// the caller names.
//
// # Cells
//
// A method by a design under a condition is a cell: an ordinary output folder of run or
// crossval, without features, which score, compare, report and audit read. Its name ends
// with the digest of what it is made from: program version, method, options, models, data,
// reference, condition and rules. A cell that is there is not made again, also where another
// study with the same output folder has made it. That its data are unchanged is checked
// for one cell of each design, and the others are compared with that one when they are
// scored.
//
// Conditions change what is segmented, and not what is fitted. So models are fitted once:
// the models of a cross-validation lie in the first of its cells that was made, and the
// others take them from there (crossval --models-from); those of fit-on lie in the folder
// models. Methods that differ in options of the segmentation alone share them too.
//
// A cell that cannot be made, or in which no recording could be segmented, is a
// cell with a reason. The next call tries again.
//
// # Several machines
//
// A shard makes a part of the cells. Those that need the same models belong to one shard,
// so that no two machines fit them. The output folder is locked as that of a run: for one
// machine without shards, or for each shard once. When all shards are done, a call without
// shards finds all cells and writes the results. So does one without --only.
//
// # Results
//
// study.json holds the scores (see [eval.Study]): the same bytes for any number of workers
// and shards, and after any interrupt. study-cost.json holds what cells and models cost in
// processor time. The tables lie in the folder tables as Markdown, LaTeX and CSV, and
// study.html is the page.
package study
