package pipeline

import (
	"context"
	"crypto/sha256"
	"hash"

	"phonocycle/eval"
	"phonocycle/pipeline/table"
)

// tally is what stands on all recordings of a run: counts, the digest of their
// audio, the means of people and the scores. They are added one by one in their
// order, while their rows are in memory. Where an earlier run or a shard made
// some of the parts, it is read from the tables instead.
type tally struct {
	job    *job
	report *Report
	inputs hash.Hash // of the digests of all audio files
	names  []string  // of the labels

	people  *peopleSums
	varying []string // warnings of labels that differ between the recordings of a person
	written bool     // the table of people

	scoring *scoring
	scores  *eval.Accumulator
}

// scored is a recording as it enters the scores, and its score.
type scored struct {
	of     eval.Case
	result eval.Result
	err    error
}

// newTally begins to add up the recordings of a job, of which no part is there.
func (j *job) newTally() (*tally, error) {
	t := &tally{job: j, report: &Report{}, inputs: sha256.New(), names: labelNames(j.labels)}
	if j.extracts {
		people, recordings := peopleOf(j.entries)
		t.people = newPeopleSums(j.config.Out, j.summary, j.plan.metadata(), people, recordings)
	}
	if !j.scores {
		return t, nil
	}
	s, err := j.newScoring()
	if err != nil {
		return nil, err
	}
	t.scoring, t.scores = s, newAccumulator(s.rules, &j.config)
	t.scores.Grow(len(j.entries))
	return t, s.clear()
}

// readTally adds up the recordings of the tables in the output folder.
func (j *job) readTally(ctx context.Context, p Progress) (*tally, error) {
	t := &tally{job: j, report: &Report{}, inputs: sha256.New()}
	if err := t.report.count(j.config.Out, t.inputs); err != nil {
		return nil, err
	}
	if !j.scores {
		return t, nil
	}
	s, err := j.newScoring()
	if err != nil {
		return nil, err
	}
	t.scores, err = s.accumulate(ctx, &j.config, j.plan.parts(), t.report.Counts.In, p)
	return t, err
}

// newScoring returns the scoring of the tables that the job writes.
func (j *job) newScoring() (*scoring, error) {
	rules, err := rulesOf(&j.config)
	return &scoring{from: j.config.Out, out: j.config.Out, known: j.config.Known, rules: rules, metadata: j.plan.metadata()}, err
}

// newScorer returns a scorer for one worker; nil where nothing is scored.
func (t *tally) newScorer() *eval.Scorer {
	if t == nil || t.scoring == nil {
		return nil
	}
	return must(eval.NewScorer(t.scoring.rules))
}

// score scores a recording by its rows. Several workers may score at once.
func (t *tally) score(scorer *eval.Scorer, o *output) {
	if scorer == nil {
		return
	}
	var s scored
	if s.of, s.err = t.scoring.caseOf(&o.recording, t.names, o.labels, o.states); s.err == nil {
		s.result = scorer.Score(&s.of)
	}
	o.scored = s
}

// add adds a recording with the cells of its row.
func (t *tally) add(o *output, cells table.Cells) error {
	if t == nil {
		return nil
	}
	if err := t.report.add(&o.recording, t.inputs); err != nil {
		return err
	}
	if t.people != nil {
		if err := t.people.add(&o.recording, cells); err != nil {
			return err
		}
	}
	if t.scoring != nil {
		t.scores.Add(&o.scored.result)
	}
	return nil
}

// abort removes what is not complete.
func (t *tally) abort() {
	if t != nil && t.people != nil {
		t.people.abort()
	}
}

// finishPeople completes the table of people, if there is one and all of them
// could be summed up as they came.
func (t *tally) finishPeople() (err error) {
	if t.people != nil && !t.people.tooMany {
		t.varying, err = t.people.finish()
		t.written = err == nil
	}
	return err
}

// readPeople writes the table of people from the recordings table, unless it is
// complete.
func (t *tally) readPeople() (err error) {
	if !t.written {
		t.varying, err = writePeople(t.job.config.Out, t.job.plan.metadata())
	}
	return err
}
