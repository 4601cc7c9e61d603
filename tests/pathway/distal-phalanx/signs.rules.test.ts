import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, pathway } from "./records.ts";

/*
 * What each sign means, told by cases on either side of it. A line is "sign, yes or no, answers"; several values are given with "|". All other
 * answers are those of a healthy adult (or child) with a closed crush and no fracture.
 */
function meaning(title: string, base: Facts, table: string): void {
  describe(title, () => {
    for (const line of table.trim().split("\n")) {
      const [name, expected, ...answers] = line.trim().split(" ") as [string, string, ...string[]];
      for (const facts of combined(answers))
        it(`${name} ${expected}: ${Object.entries(facts).flat().join(" ")}`, () =>
          expect(pathway.evaluate({ ...base, ...facts }).signs[name]).toBe(expected));
    }
  });
}
function combined(answers: readonly string[]): Facts[] {
  return answers.reduce<Facts[]>(
    (all, answer) => {
      const [finding, values] = answer.split("=") as [string, string];
      return all.flatMap((facts) =>
        values
          .split("|")
          .map((v) => ({ ...facts, [finding]: v === "not-asked" || Number.isNaN(Number(v)) ? v : Number(v) })),
      );
    },
    [{}],
  );
}

meaning(
  "signs of any hand injury",
  ADULT,
  `
    openFracture yes openness=open-nail-bed|open-skin
    openFracture no openness=closed|skin-cut|skin-burst-or-flap
    openFracture yes openness=uncertain bloodAtNailFold=yes
    openFracture yes openness=uncertain opennessOnSecondLook=open-nail-bed|open-skin
    openFracture yes openness=uncertain nailPlate=avulsed-at-fold|over-fold|missing|split
    openFracture not-asked openness=uncertain
    openFracture no openness=uncertain opennessOnSecondLook=closed
    openFracture yes tissueLoss=bone-exposed|amputation-replantable|amputation-not-replantable
    openFracture no tissueLoss=pulp-small|pulp-large
    openFracture yes nailBed=simple|stellate|crushed-or-avulsed|germinal-matrix
    openFracture no nailBed=intact
    openFracture yes woundOverJoint=cut|skin-and-tendon-lost
    openFracture no nailPlate=avulsed-at-fold|over-fold|missing|split
    openThroughNailBed yes openness=open-nail-bed
    openThroughNailBed yes openness=uncertain opennessOnSecondLook=open-nail-bed
    openThroughNailBed no openness=uncertain opennessOnSecondLook=open-skin
    openThroughNailBed no openness=open-skin
    bite yes mechanism=human-bite|cat-bite|dog-bite|other-animal-bite
    bite no mechanism=crush|laceration|saw
    biteNeedsAntibiotic yes mechanism=human-bite|cat-bite|other-animal-bite biteBloodDrawn=yes
    biteNeedsAntibiotic no mechanism=human-bite|cat-bite|other-animal-bite biteBloodDrawn=no biteDeepOrDirty=yes
    biteNeedsAntibiotic yes mechanism=dog-bite biteBloodDrawn=yes biteDeepOrDirty=yes
    biteNeedsAntibiotic no mechanism=dog-bite biteBloodDrawn=yes biteDeepOrDirty=no
    biteNeedsAntibiotic no mechanism=dog-bite biteBloodDrawn=no biteDeepOrDirty=yes
    woundPresent yes openness=skin-cut|skin-burst-or-flap|open-skin|open-nail-bed
    woundPresent yes mechanism=laceration|saw|high-pressure-injection|burn-or-frostbite|cat-bite
    woundPresent yes tissueLoss=pulp-small|pulp-large|bone-exposed|amputation-replantable|amputation-not-replantable
    woundPresent yes nailPlate=avulsed-at-fold|over-fold|missing|split
    woundPresent no nailPlate=loose-distally
    woundPresent no mechanism=fall|forced-flexion|forced-extension
    poorPerfusion yes tipColour=pale|dusky|white
    poorPerfusion yes capillaryRefill=slow
    poorPerfusion no tipColour=pink
    perfusionInDoubt yes tipColour=dusky perfusionAfterFirstSteps=not-yet|still-poor
    perfusionInDoubt no tipColour=dusky perfusionAfterFirstSteps=restored
    ischaemia yes tipColour=white perfusionAfterFirstSteps=still-poor
    ischaemia no tipColour=white perfusionAfterFirstSteps=restored|not-yet
    ischaemia no perfusionAfterFirstSteps=still-poor
    coolingHarms yes vasospasm=yes
    coolingHarms yes tipColour=pale
    amputation yes tissueLoss=amputation-replantable|amputation-not-replantable
    amputation no tissueLoss=bone-exposed
    contaminatedWound yes openness=open-skin contamination=visible-dirt|heavy-dirt|soil-or-manure|saliva|water|grease-or-paint
    contaminatedWound no openness=open-skin contamination=clean
    contaminatedWound no contamination=soil-or-manure
    contaminatedWound yes mechanism=human-bite
    grossContamination yes openness=skin-cut contamination=heavy-dirt|soil-or-manure
    grossContamination no openness=skin-cut contamination=visible-dirt|saliva|water|grease-or-paint
    grossContamination no contamination=heavy-dirt
    lesserContamination yes openness=skin-cut contamination=visible-dirt|saliva|water|grease-or-paint
    lesserContamination no openness=skin-cut contamination=heavy-dirt|soil-or-manure
    lesserContamination no contamination=water
    hostCompromised yes diabetes=yes
    hostCompromised yes immuneCompromise=yes
    hostCompromised yes arterialDisease=yes
    hostCompromised no smoker=yes vasospasm=yes
    infected yes infectionSigns=local|spreading|tense-pulp-or-discharge
    infected yes sheathSigns=yes
    infected yes lysisOrPeriostealReaction=yes
    child yes ageYears=17.9
    child no ageYears=18
    woundLate yes openness=skin-cut hoursSinceInjury=24
    woundLate no openness=skin-cut hoursSinceInjury=23.9
    woundLate no hoursSinceInjury=48
    washoutInsufficient yes openness=skin-cut washoutPossible=inadequate
    washoutInsufficient no washoutPossible=inadequate
    washoutInsufficient yes openness=skin-cut hoursSinceInjury=12
    washoutInsufficient no openness=skin-cut hoursSinceInjury=11.9
    woundNeedsAntibiotic yes openness=skin-cut devitalised=yes
    woundNeedsAntibiotic no openness=skin-cut devitalised=artery-cut
    woundNeedsAntibiotic no devitalised=yes
    blockForbidden yes localAnaestheticAllergy=yes
    blockForbidden no localAnaestheticAllergy=sulfite
    blockForbidden yes infectionSigns=local
    blockForbidden yes tipColour=dusky perfusionAfterFirstSteps=not-yet
    blockForbidden no tipColour=dusky perfusionAfterFirstSteps=restored
    blockForbidden yes mechanism=high-pressure-injection
    epinephrineRisk yes tipColour=dusky perfusionAfterFirstSteps=restored
    epinephrineRisk yes vasospasm=yes
    epinephrineRisk yes arterialDisease=yes
    epinephrineRisk yes devitalised=yes|artery-cut
    epinephrineRisk yes mangled=yes
    epinephrineRisk yes tissueLoss=amputation-replantable
    epinephrineRisk yes localAnaestheticAllergy=sulfite
    epinephrineRisk no localAnaestheticAllergy=yes smoker=yes diabetes=yes
    dominantPinchDigit yes digit=thumb|index side=right dominantHand=right|both
    dominantPinchDigit yes digit=thumb|index side=left dominantHand=left|both
    dominantPinchDigit no digit=thumb|index side=left dominantHand=right
    dominantPinchDigit no digit=thumb|index side=right dominantHand=left
    dominantPinchDigit no digit=middle|ring|little side=right dominantHand=right
    tetanusDirtyWound yes openness=skin-cut mechanism=crush|saw|high-pressure-injection|burn-or-frostbite|dog-bite
    tetanusDirtyWound no openness=skin-cut mechanism=laceration|fall
    tetanusDirtyWound yes openness=skin-cut mechanism=laceration contamination=water
    tetanusDirtyWound yes openness=skin-cut mechanism=laceration devitalised=yes
    tetanusDirtyWound yes openness=skin-cut mechanism=laceration foreignBody=yes
    tetanusDirtyWound yes openness=skin-cut mechanism=laceration infectionSigns=local
    tetanusDirtyWound yes openness=skin-burst-or-flap mechanism=laceration
    tetanusDirtyWound yes tissueLoss=pulp-small mechanism=laceration
    tetanusDirtyWound yes nailPlate=avulsed-at-fold|over-fold|missing|split mechanism=laceration
    tetanusAntibodyInDoubt yes immuneCompromise=yes openness=skin-cut contamination=water
    tetanusAntibodyInDoubt no immuneCompromise=yes openness=skin-cut
    tetanusProneWound yes openness=open-skin mechanism=laceration
    tetanusProneWound yes openness=skin-cut mechanism=laceration hoursSinceInjury=6
    tetanusProneWound no openness=skin-cut mechanism=laceration hoursSinceInjury=5.9
    tetanusHighRiskWound yes openness=skin-cut contamination=heavy-dirt|soil-or-manure
    tetanusHighRiskWound yes openness=skin-cut devitalised=yes
    tetanusHighRiskWound yes openness=skin-cut hoursSinceInjury=6
    tetanusHighRiskWound no openness=skin-cut contamination=water hoursSinceInjury=5.9
    tetanusBoosterInDate yes tetanusDoses=three-or-more ageYears=4.9
    tetanusBoosterInDate yes tetanusDoses=three-or-more ageYears=5|10.9 tetanusPreschoolBooster=yes
    tetanusBoosterInDate no tetanusDoses=three-or-more ageYears=5|10.9 tetanusPreschoolBooster=no
    tetanusBoosterInDate yes tetanusDoses=three-or-more ageYears=11 tetanusYearsSinceLast=10 tetanusPreschoolBooster=no
    tetanusBoosterInDate no tetanusDoses=three-or-more ageYears=11 tetanusYearsSinceLast=10.1
    tetanusBoosterInDate no tetanusDoses=none|one-or-two|not-known ageYears=4
    antibioticForWound yes openness=skin-cut contamination=water
    antibioticForWound yes openness=skin-cut diabetes=yes
    antibioticForWound no openness=skin-cut
    antibioticForWound no diabetes=yes
  `,
);
meaning(
  "signs of the end bone in an adult",
  ADULT,
  `
    physisOpen no physis=open
    onLateral yes trueLateral=seen
    onLateral no trueLateral=not-taken
    displaced yes displacement=seen translationMm=2
    displaced no displacement=seen translationMm=1.9
    displaced yes displacement=seen corticalContact=none
    displaced yes displacement=seen angulationDegrees=10
    displaced no displacement=seen angulationDegrees=9.9
    displaced yes nailPlaneRotation=rotated
    displaced no displacement=none-seen translationMm=3
    displacementDoubtful yes translationMm=2
    displacementDoubtful yes corticalContact=none
    displacementDoubtful yes angulationDegrees=10
    displacementDoubtful no displacement=seen translationMm=2
    displacementDoubtful no filmTaken=no translationMm=2 corticalContact=none angulationDegrees=10
    jointDisplaced yes displacement=seen jointStepMm=1
    jointDisplaced no displacement=seen jointStepMm=0.9
    jointDisplaced no jointStepMm=2
    jointDisplaced yes jointPosition=volar-subluxed|dorsal-subluxed
    nailBedTorn yes nailBed=simple|stellate|crushed-or-avulsed|germinal-matrix
    nailBedTorn yes openness=open-nail-bed
    nailBedTorn no nailBed=intact
    nailBedComplex yes nailBed=stellate|crushed-or-avulsed|germinal-matrix
    nailBedComplex no nailBed=simple
    nailBedComplex yes nailBed=simple nailPlaneRotation=rotated
    nailMayFall yes haematoma=under-quarter|quarter-to-half|over-half
    nailToExplore yes nailPlate=avulsed-at-fold|over-fold|missing|split
    nailToExplore no nailPlate=loose-distally
    nailToExplore yes bloodAtNailFold=yes
    nailFoldInjured yes nailPlate=avulsed-at-fold|over-fold|missing
    nailFoldInjured no nailPlate=split
    boneBroken yes fractureSite=tuft|shaft|base-extra-articular|base-dorsal|base-volar|base-both-sides|base-central|physis
    boneBroken no fractureSite=no-fracture-seen
    boneBroken yes filmTaken=no
    boneBroken yes trueLateral=not-taken
    fdpLoss yes activeFlexion=absent
    fdpLoss no activeFlexion=weak|cannot-test
    fdpLoss yes fractureSite=base-volar activeFlexion=weak|cannot-test
    fdpLoss no fractureSite=base-both-sides activeFlexion=weak|cannot-test
    fdpLoss yes fractureSite=base-both-sides activeFlexion=absent
    fdpLoss no fractureSite=base-volar|base-both-sides filmTaken=no activeFlexion=weak
    jersey yes activeFlexion=absent mechanism=crush|axial-load|forced-flexion|forced-extension|high-pressure-injection|fall|burn-or-frostbite|no-adequate-trauma|other
    jersey no activeFlexion=absent mechanism=laceration|saw|human-bite|cat-bite|dog-bite|other-animal-bite
    jersey yes fractureSite=base-volar activeFlexion=weak|cannot-test mechanism=laceration
    jersey no fractureSite=base-both-sides activeFlexion=weak|cannot-test
    jersey yes fractureSite=base-both-sides activeFlexion=absent
    jerseySuspected yes fractureSite=base-both-sides activeFlexion=weak|cannot-test
    jerseySuspected no fractureSite=base-both-sides activeFlexion=present|absent
    jerseySuspected yes mechanism=forced-extension activeFlexion=weak|cannot-test
    jerseySuspected no mechanism=forced-extension activeFlexion=present|absent
    jerseySuspected no mechanism=crush activeFlexion=weak
    jerseySuspected yes mechanism=crush activeFlexion=weak|cannot-test restingPosition=too-straight
    jerseySuspected yes mechanism=crush activeFlexion=weak restingPosition=too-straight jointDislocated=reduced
    jerseySuspected no mechanism=crush activeFlexion=weak restingPosition=too-straight jointDislocated=yes-not-yet-reduced|irreducible
    jerseySuspected no mechanism=laceration activeFlexion=weak restingPosition=too-straight
    jerseySuspected no mechanism=crush activeFlexion=weak restingPosition=droops
    jerseySuspected no fractureSite=base-volar activeFlexion=weak|cannot-test restingPosition=too-straight
    jerseySuspected no fractureSite=base-volar activeFlexion=weak|cannot-test mechanism=forced-extension
    jerseyFresh yes activeFlexion=absent hoursSinceInjury=2159
    jerseyFresh no activeFlexion=absent hoursSinceInjury=2160
    jerseyFresh not-asked activeFlexion=absent hoursSinceInjury=not-asked
    jerseyFresh no activeFlexion=absent fractureSite=base-volar restOfPhalanx=intra-articular-fracture
    jerseyBaseToHold yes activeFlexion=absent fractureSite=base-volar restOfPhalanx=intra-articular-fracture jointPosition=volar-subluxed
    jerseyBaseToHold no activeFlexion=absent fractureSite=base-volar restOfPhalanx=intra-articular-fracture jointPosition=congruent
    jerseyBaseToHold no activeFlexion=absent fractureSite=base-volar restOfPhalanx=intra-articular-fracture jointPosition=volar-subluxed hoursSinceInjury=2160
    haematomaDrained yes haematoma=under-quarter|quarter-to-half|over-half haematomaPainful=yes
    haematomaDrained no haematoma=over-half haematomaPainful=no
    haematomaDrained no haematoma=over-half haematomaPainful=yes hoursSinceInjury=49
    haematomaDrained no haematoma=over-half haematomaPainful=yes nailPlate=split|missing|avulsed-at-fold|over-fold
    haematomaDrained no haematoma=over-half haematomaPainful=yes bloodAtNailFold=yes
    haematomaDrained no haematoma=over-half haematomaPainful=yes nailPlaneRotation=rotated
    haematomaDrained no haematoma=over-half haematomaPainful=yes nailBed=simple
    jerseyAlone yes activeFlexion=absent
    jerseyAlone yes activeFlexion=absent filmTaken=no restOfPhalanx=extra-articular-fracture
    jerseyAlone no activeFlexion=absent fractureSite=base-volar restOfPhalanx=extra-articular-fracture|intra-articular-fracture
    volarChip yes fractureSite=base-volar
    volarChip no fractureSite=base-volar restOfPhalanx=extra-articular-fracture
    volarChip no fractureSite=base-volar activeFlexion=weak
    volarChip no fractureSite=base-volar trueLateral=not-taken
    combinedBase yes fractureSite=base-both-sides
    combinedBase yes fractureSite=base-volar restOfPhalanx=extra-articular-fracture|intra-articular-fracture
    combinedBase no fractureSite=base-both-sides trueLateral=not-taken
    pilonBase yes fractureSite=base-central
    pilonBase no fractureSite=base-central trueLateral=not-taken
    shaft yes fractureSite=shaft
    shaft no fractureSite=shaft filmTaken=no
    baseExtra yes fractureSite=base-extra-articular
    baseExtra no fractureSite=base-extra-articular trueLateral=not-taken
    unstableFracture yes fractureSite=shaft nailPlaneRotation=rotated
    unstableFracture yes fractureSite=shaft openness=open-skin nailBedInGap=yes
    unstableFracture no fractureSite=shaft openness=closed nailBedInGap=yes
    unstableFracture no fractureSite=tuft nailPlaneRotation=rotated
    unstableFracture yes fractureSite=base-extra-articular
    shaftApart yes fractureSite=shaft fracturePattern=longitudinal displacement=seen jointStepMm=1
    shaftApart yes fractureSite=shaft fracturePattern=longitudinal displacement=seen fragmentGapMm=2.1
    shaftApart no fractureSite=shaft fracturePattern=longitudinal displacement=seen fragmentGapMm=2 jointStepMm=0.9
    shaftApart no fractureSite=shaft fracturePattern=transverse displacement=seen fragmentGapMm=3 jointStepMm=2
    shaftApart no fractureSite=shaft fracturePattern=longitudinal displacement=none-seen fragmentGapMm=3 jointStepMm=2
    shaftApart no fractureSite=tuft fracturePattern=longitudinal displacement=seen fragmentGapMm=3 jointStepMm=2
    stableShaft yes fractureSite=shaft
    malletBony yes fractureSite=base-dorsal
    malletBony no fractureSite=base-dorsal trueLateral=not-taken
    tendinousMallet yes activeExtension=lag fractureSite=no-fracture-seen|tuft|shaft
    tendinousMallet no activeExtension=lag fractureSite=base-volar|base-central
    tendinousMallet no activeExtension=cannot-test
    tendinousMallet no activeExtension=lag trueLateral=not-taken
    tendinousMallet no activeExtension=lag fractureSite=shaft nailPlaneRotation=rotated
    splintTimeOver yes activeExtension=lag presentation=again|again-worse fullSplintTimeDone=yes hoursSinceInjury=1008
    splintTimeOver no activeExtension=lag presentation=again fullSplintTimeDone=yes hoursSinceInjury=1007
    splintTimeOver no activeExtension=lag presentation=first fullSplintTimeDone=yes hoursSinceInjury=1400
    splintTimeOver no activeExtension=lag presentation=again fullSplintTimeDone=no hoursSinceInjury=1400
    splintTimeOver no activeExtension=full presentation=again fullSplintTimeDone=yes hoursSinceInjury=1400
    openMallet yes activeExtension=lag woundOverJoint=cut|skin-and-tendon-lost
    openMallet yes fractureSite=base-dorsal woundOverJoint=cut|skin-and-tendon-lost
    openMallet no woundOverJoint=cut
    openMallet yes activeExtension=lag mechanism=laceration|saw openness=skin-cut|skin-burst-or-flap|open-skin
    openMallet no activeExtension=lag mechanism=crush openness=skin-cut
    openMallet no activeExtension=full mechanism=saw openness=open-skin
    openMallet yes activeExtension=lag mechanism=laceration|saw openness=uncertain opennessOnSecondLook=open-skin
    openMallet no activeExtension=lag mechanism=laceration|saw openness=uncertain opennessOnSecondLook=closed
    isolatedTuft yes fractureSite=tuft
    isolatedTuft no fractureSite=tuft activeFlexion=absent
    isolatedTuft no fractureSite=tuft activeExtension=lag
    surgeonTakesOver yes nailBed=stellate
    surgeonTakesOver yes woundOverJoint=cut
    surgeonTakesOver yes activeExtension=lag mechanism=saw openness=skin-cut
    surgeonTakesOver yes openness=open-skin fractureSite=shaft
    surgeonTakesOver no openness=open-skin fractureSite=tuft
    surgeonTakesOver no openness=open-skin
    surgeonTakesOver yes openness=open-skin contamination=heavy-dirt
    surgeonTakesOver no openness=skin-cut contamination=heavy-dirt
    surgeonTakesOver yes openness=open-skin jointDislocated=yes-not-yet-reduced|reduced
    surgeonTakesOver no openness=skin-cut jointDislocated=reduced
    surgeonTakesOver yes openness=skin-cut hoursSinceInjury=24
    surgeonTakesOver yes tissueLoss=pulp-large
    surgeonTakesOver no tissueLoss=pulp-small
    baseDisplaced yes fractureSite=base-both-sides|base-central jointPosition=volar-subluxed
    baseDisplaced no fractureSite=base-both-sides|base-central
    baseDisplaced no fractureSite=base-dorsal jointPosition=volar-subluxed
    operationElsewhere yes activeFlexion=absent
    operationElsewhere yes mechanism=forced-extension activeFlexion=weak
    operationElsewhere yes tissueLoss=pulp-large
    operationElsewhere yes fractureSite=shaft nailPlaneRotation=rotated
    operationElsewhere yes fractureSite=base-central jointPosition=volar-subluxed
    operationElsewhere no fractureSite=shaft
    malletSlipped yes fractureSite=base-dorsal jointPosition=volar-subluxed|dorsal-subluxed
    malletSlipped no fractureSite=base-dorsal jointPosition=congruent
    malletLarge yes fractureSite=base-dorsal articularSharePercent=66.8
    malletLarge no fractureSite=base-dorsal articularSharePercent=66.7
    malletMiddle yes fractureSite=base-dorsal articularSharePercent=33.3|66.7
    malletMiddle no fractureSite=base-dorsal articularSharePercent=33.2|66.8
    malletMiddle no fractureSite=base-dorsal articularSharePercent=40 jointPosition=volar-subluxed
    malletSmall yes fractureSite=base-dorsal articularSharePercent=33.2
    malletSmall no fractureSite=base-dorsal articularSharePercent=33.3
    malletSmall no fractureSite=base-dorsal articularSharePercent=20 jointPosition=volar-subluxed
    noFracture yes fractureSite=no-fracture-seen
    noFracture no activeExtension=lag|cannot-test
    noFracture no activeFlexion=weak|absent|cannot-test
    noFracture no jointDislocated=reduced
    noFracture no jointPosition=volar-subluxed
    noFracture no trueLateral=not-taken
    tendonUncleared yes activeExtension=full|cannot-test activeFlexion=weak|cannot-test
    tendonUncleared yes activeExtension=cannot-test
    tendonUncleared no activeExtension=lag activeFlexion=weak
    tendonUncleared no activeFlexion=absent
    tendonUncleared no fractureSite=tuft activeFlexion=weak
    reducedDislocation yes jointDislocated=reduced fractureSite=tuft|no-fracture-seen
    reducedDislocation no jointDislocated=yes-not-yet-reduced|irreducible|no
    reducedDislocation no jointDislocated=reduced fractureSite=shaft
    reducedDislocation yes jointDislocated=reduced activeExtension=cannot-test
    reducedDislocation no jointDislocated=reduced activeExtension=lag
    reducedDislocation no jointDislocated=reduced activeFlexion=absent
    lateralMissing yes trueLateral=not-taken fractureSite=base-extra-articular|base-dorsal|base-volar|base-both-sides|base-central|physis|no-fracture-seen
    lateralMissing no trueLateral=not-taken fractureSite=tuft|shaft
    lateralMissing yes trueLateral=not-taken fractureSite=tuft|shaft activeExtension=lag
    lateralMissing no trueLateral=not-taken filmTaken=no activeExtension=lag
    lateralMissing no trueLateral=seen fractureSite=base-dorsal
    blockLikely yes fractureSite=base-extra-articular
    blockLikely yes nailPlate=split
    blockLikely yes nailBed=simple
    blockLikely yes openness=open-skin
    blockLikely yes jointDislocated=yes-not-yet-reduced
    blockLikely no jointDislocated=reduced
    blockLikely no fractureSite=tuft haematoma=over-half
    wirePossible yes fractureSite=base-extra-articular
    wirePossible yes activeFlexion=absent
    wirePossible no fractureSite=base-dorsal
  `,
);
meaning(
  "signs of the growth plate in a child",
  CHILD,
  `
    physisOpen yes physis=open|closing|cannot-judge
    physisOpen no physis=closed
    physisOpen yes physis=closed filmTaken=no
    physisDisplaced yes displacement=seen translationMm=2.1
    physisDisplaced no displacement=seen translationMm=2
    physisDisplaced yes displacement=seen corticalContact=none
    physisDisplaced yes displacement=seen angulationDegrees=10
    physisDisplaced no displacement=seen angulationDegrees=9.9
    physisDisplaced yes nailPlaneRotation=rotated
    physisDisplaced no displacement=none-seen translationMm=3 angulationDegrees=20
    physealLine yes salterHarris=I|II|juxta-epiphyseal
    physealLine no salterHarris=III|IV|V
    physealLine yes dorsalPhysealWidening=yes
    physealLine yes fractureSite=physis|base-extra-articular
    physealLine no fractureSite=physis|base-extra-articular physis=closed
    physealLine no fractureSite=physis|base-extra-articular filmTaken=no
    seymour yes salterHarris=I nailPlate=avulsed-at-fold|over-fold|missing
    seymour yes salterHarris=I bloodAtNailFold=yes
    seymour yes salterHarris=I openness=open-skin
    seymour yes nailPlate=over-fold activeExtension=lag
    seymour yes nailPlate=over-fold activeExtension=cannot-test restingPosition=droops
    seymour no nailPlate=over-fold activeExtension=cannot-test restingPosition=in-line|too-straight
    seymour no nailPlate=over-fold
    seymour no salterHarris=I
    seymour no nailPlate=over-fold activeExtension=lag physis=closed
    seymourSuspect yes nailPlate=over-fold
    seymourSuspect no nailPlate=missing
    seymourSuspect yes nailPlate=missing activeExtension=cannot-test physis=cannot-judge
    seymourSuspect yes nailPlate=missing activeExtension=cannot-test filmTaken=no
    seymourSuspect yes nailPlate=missing activeExtension=cannot-test trueLateral=not-taken
    seymourSuspect no nailPlate=missing activeExtension=cannot-test
    malletEquivalentCorD yes epiphysisTurned=turned-tendon-attached|separated-tendon-avulsed
    malletEquivalentCorD no epiphysisTurned=turned-tendon-attached physis=closed
    malletEquivalentB yes salterHarris=III|IV fractureSite=tuft|shaft|base-extra-articular|base-dorsal|base-central|physis|no-fracture-seen
    malletEquivalentB no salterHarris=III|IV fractureSite=base-volar|base-both-sides
    malletEquivalentB yes salterHarris=none|V fractureSite=base-dorsal
    malletEquivalentB no salterHarris=III trueLateral=not-taken
    malletEquivalentB no salterHarris=III epiphysisTurned=turned-tendon-attached
    malletEquivalentB no salterHarris=III physis=closed
    malletEquivalentB no salterHarris=I|II fractureSite=base-dorsal
    seymourPatternClosed yes salterHarris=II activeExtension=lag
    seymourPatternClosed no salterHarris=II activeExtension=full|cannot-test
    seymourPatternClosed no salterHarris=II activeExtension=lag nailPlate=over-fold
    seymourPatternClosed no salterHarris=II activeExtension=lag epiphysisTurned=turned-tendon-attached|separated-tendon-avulsed
    seymourPatternClosed no dorsalPhysealWidening=yes salterHarris=III activeExtension=lag
    physealClosed yes salterHarris=II activeExtension=full|cannot-test
    physealClosed no salterHarris=II nailPlate=over-fold
    physealClosed no salterHarris=III
    physealClosed no salterHarris=II epiphysisTurned=turned-tendon-attached|separated-tendon-avulsed
    physealClosed no dorsalPhysealWidening=yes salterHarris=III
    openPhysealFracture yes salterHarris=II openness=open-skin
    openPhysealFracture yes salterHarris=III openness=open-skin
    openPhysealFracture yes salterHarris=III bloodAtNailFold=yes
    openPhysealFracture yes epiphysisTurned=turned-tendon-attached openness=open-skin
    openPhysealFracture yes epiphysisTurned=turned-tendon-attached bloodAtNailFold=yes
    openPhysealFracture no salterHarris=III
    openPhysealFracture no epiphysisTurned=turned-tendon-attached
    openPhysealFracture no openness=open-skin
    possiblePhyseal yes physisTender=yes mechanism=crush
    possiblePhyseal no physisTender=yes mechanism=axial-load|forced-flexion|forced-extension|fall|no-adequate-trauma|laceration|other
    possiblePhyseal no physisTender=no
    possiblePhyseal yes physisTender=yes mechanism=axial-load activeExtension=lag
    possiblePhyseal no physisTender=yes fractureSite=tuft
    possiblePhyseal no physisTender=yes filmTaken=no
    possiblePhyseal yes salterHarris=V fractureSite=physis|base-extra-articular|no-fracture-seen
    possiblePhyseal no salterHarris=V fractureSite=shaft
    possiblePhyseal yes nailPlate=over-fold
    possiblePhyseal no physisTender=yes physis=closed
    physealInjury yes salterHarris=II
    physealInjury yes nailPlate=over-fold
    physealInjury yes salterHarris=III
    physealInjury yes epiphysisTurned=turned-tendon-attached
    physealInjury yes physisTender=yes
    physealInjury no physisTender=no
    shaft no fractureSite=shaft nailPlate=over-fold
    tuft no fractureSite=tuft nailPlate=over-fold
    isolatedTuft no fractureSite=tuft salterHarris=II
    stableShaft no fractureSite=shaft salterHarris=II
    malletBony no fractureSite=base-dorsal
    baseExtra no fractureSite=base-extra-articular
    tendinousMallet yes activeExtension=lag
    tendinousMallet no activeExtension=lag physisTender=yes
    surgeonTakesOver yes nailPlate=over-fold
    surgeonTakesOver yes salterHarris=III bloodAtNailFold=yes
    surgeonTakesOver yes epiphysisTurned=turned-tendon-attached
    noFracture no physisTender=yes
    tendonUncleared no physisTender=yes activeFlexion=weak
    reducedDislocation no physisTender=yes jointDislocated=reduced
    lateralMissing yes trueLateral=not-taken fractureSite=tuft nailPlate=over-fold
    lateralMissing no trueLateral=not-taken fractureSite=tuft nailPlate=over-fold physis=closed
    lateralMissing yes trueLateral=not-taken fractureSite=tuft|shaft salterHarris=I|II|III|IV|V|juxta-epiphyseal
    lateralMissing no trueLateral=not-taken fractureSite=tuft salterHarris=I filmTaken=no
    lateralMissing no trueLateral=not-taken fractureSite=tuft salterHarris=I physis=closed
    blockLikely yes salterHarris=II nailPlaneRotation=rotated
    blockLikely yes salterHarris=II nailPlaneRotation=rotated activeExtension=lag
    blockLikely no salterHarris=II
    lateOrInfectedPhyseal yes salterHarris=II openness=open-skin hoursSinceInjury=24
    lateOrInfectedPhyseal no salterHarris=II openness=open-skin hoursSinceInjury=23.9
    lateOrInfectedPhyseal yes salterHarris=II openness=open-skin infectionSigns=local
    lateOrInfectedPhyseal no infectionSigns=local
  `,
);

/* RAMOS18 treats breaks through a lesion in a splint; that nothing else may call for the finger first is common practice, no source. */
const NOTHING_ELSE = `
    lesionAlone no boneLesion=no
    lesionAlone yes mechanism=crush|axial-load|forced-flexion|forced-extension|laceration|saw|fall|no-adequate-trauma|other
    lesionAlone no mechanism=human-bite|cat-bite|dog-bite|other-animal-bite|high-pressure-injection|burn-or-frostbite
    lesionAlone no otherSeriousInjury=yes
    lesionAlone no mangled=yes
    lesionAlone no tipColour=white perfusionAfterFirstSteps=still-poor
    lesionAlone yes tissueLoss=pulp-small|pulp-large
    lesionAlone no tissueLoss=bone-exposed|amputation-replantable|amputation-not-replantable
    lesionAlone yes jointDislocated=reduced
    lesionAlone no jointDislocated=yes-not-yet-reduced|irreducible
    lesionAlone no sheathSigns=yes
    lesionAlone yes infectionSigns=local
    lesionAlone no infectionSigns=spreading|tense-pulp-or-discharge
    lesionAlone no lysisOrPeriostealReaction=yes
`;
meaning("a closed break through a bone lesion, and nothing else", { ...ADULT, boneLesion: "yes" }, NOTHING_ELSE);
meaning(
  "an open break through a bone lesion, and nothing else",
  { ...ADULT, boneLesion: "yes", nailBed: "simple" },
  `${NOTHING_ELSE.trim()}
    lesionAlone no contamination=heavy-dirt|soil-or-manure
    lesionAlone yes contamination=visible-dirt`,
);
