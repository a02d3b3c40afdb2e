//! A run as the setup sheet takes it, for whoever leads through the work at the machine.

use crate::{Computed, results};
use proof::Proof;
use sheet::{Job, Step};

/// The steps of the work at the machine, in the setup sheet's words.
pub fn steps(computed: &Computed) -> Vec<Step> {
    let stages = results::stage_words(computed);
    let proof = proof_of_cuts(computed);
    let job = Job {
        shop: &computed.job.shop,
        intent: &computed.job.intent,
        proof: &proof,
        stages: &stages,
        frame: computed.programs.first().map(|p| p.0.as_str()),
        sentences: &computed.sentences,
        assumed: &[],
        doubts: &[],
        subsets: &[],
        reach: &[],
        why: &[],
    };
    sheet::order(&job)
}

/// The proof without the frame run, which cuts nothing.
pub(crate) fn proof_of_cuts(computed: &Computed) -> Proof {
    Proof { stages: computed.proof.stages.iter().skip(1).cloned().collect(), ..computed.proof.clone() }
}
