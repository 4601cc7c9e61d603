/**
 * The page that ours is measured against: the usual choices put together in the usual way. React, a component library,
 * the whole fhirclient, full zod, date-fns with its formatter, and a generic rule engine that holds our own tables.
 */
import { differenceInYears, format, parseISO } from "date-fns";
import FHIR from "fhirclient";
import { useEffect, useMemo, useState } from "react";
import {
  Button,
  Checkbox,
  ComboBox,
  Dialog,
  DialogTrigger,
  Disclosure,
  DisclosurePanel,
  Form,
  Heading,
  Input,
  Label,
  ListBox,
  ListBoxItem,
  NumberField,
  Popover,
  Radio,
  RadioGroup,
  Select,
  SelectValue,
  Tab,
  TabList,
  TabPanel,
  Tabs,
  TextField,
} from "react-aria-components";
import { createRoot } from "react-dom/client";
import { z } from "zod";
import { MODULES, pathwayFor, readSitePolicy } from "../../../src/pathway/index.ts";
import { firedBy, genericEngine } from "../generic-engine.ts";

const Patient = z.object({ id: z.string(), birthDate: z.string().optional() });
const Answers = z.record(z.string(), z.union([z.string(), z.number()]));
const module = MODULES[0]!;
const choices = module.questions.filter((q) => q.options).slice(0, 6);

function rules() {
  const policy = readSitePolicy(undefined);
  if (!policy.ok) throw new Error("no policy");
  const pathway = pathwayFor(module, policy.policy);
  return {
    pathway,
    engine: genericEngine(
      pathway.tables.flatMap((t) => t.rules),
      pathway.signs,
    ),
  };
}

function Page() {
  const { engine } = useMemo(rules, []);
  const [answers, setAnswers] = useState<Record<string, string | number>>({});
  const [birthDate, setBirthDate] = useState("1990-03-01");
  const [fired, setFired] = useState<readonly string[]>([]);
  const set = (finding: string, value: string | number) => setAnswers((before) => ({ ...before, [finding]: value }));

  useEffect(() => {
    if (!new URLSearchParams(location.search).has("code")) return;
    FHIR.oauth2
      .ready()
      .then((client) => client.patient.read())
      .then((read) => setBirthDate(Patient.parse(read).birthDate ?? ""));
  }, []);
  useEffect(() => {
    // The generic engine knows no "not asked": a record must name every fact, so the rest gets an empty answer.
    const complete = Object.fromEntries(Object.keys(module.findings).map((f) => [f, answers[f] ?? ""]));
    firedBy(engine, Answers.parse({ ...complete, ageYears: differenceInYears(new Date(), parseISO(birthDate)) })).then(
      setFired,
    );
  }, [engine, answers, birthDate]);

  return (
    <Form>
      <Heading>Injured finger tip</Heading>
      <p>Born {format(parseISO(birthDate), "d MMMM yyyy")}</p>
      {choices.slice(0, 3).map((question) => (
        <RadioGroup key={question.finding} onChange={(value) => set(question.finding, value)}>
          <Label>{question.wording}</Label>
          {question.options?.map((option) => (
            <Radio key={option.value} value={option.value}>
              {option.label}
            </Radio>
          ))}
        </RadioGroup>
      ))}
      {choices.slice(3, 4).map((question) => (
        <Select key={question.finding} onSelectionChange={(key) => set(question.finding, String(key))}>
          <Label>{question.wording}</Label>
          <Button>
            <SelectValue />
          </Button>
          <Popover>
            <ListBox items={question.options ?? []}>
              {(option) => <ListBoxItem id={option.value}>{option.label}</ListBoxItem>}
            </ListBox>
          </Popover>
        </Select>
      ))}
      {choices.slice(4, 5).map((question) => (
        <ComboBox key={question.finding} onSelectionChange={(key) => set(question.finding, String(key))}>
          <Label>{question.wording}</Label>
          <Input />
          <Button>Choose</Button>
          <Popover>
            <ListBox items={question.options ?? []}>
              {(option) => <ListBoxItem id={option.value}>{option.label}</ListBoxItem>}
            </ListBox>
          </Popover>
        </ComboBox>
      ))}
      <NumberField onChange={(value) => set("weightKg", value)}>
        <Label>Weight</Label>
        <Input />
      </NumberField>
      <TextField value={birthDate} onChange={setBirthDate}>
        <Label>Date of birth</Label>
        <Input />
      </TextField>
      <Checkbox onChange={(on) => set("smoker", on ? "yes" : "no")}>Smoker</Checkbox>
      <Tabs>
        <TabList aria-label="Parts">
          <Tab id="now">Now</Tab>
          <Tab id="later">Later</Tab>
        </TabList>
        <TabPanel id="now">{fired.join(", ")}</TabPanel>
        <TabPanel id="later">{fired.length} rules</TabPanel>
      </Tabs>
      <Disclosure>
        <Heading>
          <Button slot="trigger">Why</Button>
        </Heading>
        <DisclosurePanel>{fired.join(", ")}</DisclosurePanel>
      </Disclosure>
      <DialogTrigger>
        <Button>Review</Button>
        <Popover>
          <Dialog aria-label="Review">{fired.length}</Dialog>
        </Popover>
      </DialogTrigger>
    </Form>
  );
}

createRoot(document.getElementById("root")!).render(<Page />);
