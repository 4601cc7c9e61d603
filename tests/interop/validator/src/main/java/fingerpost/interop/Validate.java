package fingerpost.interop;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.SingleValidationMessage;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.node.ArrayNode;
import com.fasterxml.jackson.databind.node.ObjectNode;
import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayDeque;
import java.util.Deque;
import java.util.HashMap;
import java.util.List;
import java.util.Map;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.UnknownCodeSystemWarningValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.MetadataResource;
import org.hl7.fhir.r5.utils.validation.constants.BestPracticeWarningLevel;

/**
 * Argument, if any: a file with resources to know beside the R4 definitions, such as the Questionnaire that answers belong to.
 *
 * <p>The HL7 instance validator over standard input: one resource a line, as JSON. For each line one line comes back, in order:
 * {"issue":[{"severity","code","diagnostics","expression"}]}. No network and no terminology server: codes are judged where their
 * code system is among the R4 definitions, and are otherwise reported as not known. Ends at the end of its input.
 */
public final class Validate {
  private static final int AHEAD = 64;
  private static final ObjectMapper JSON = new ObjectMapper();

  public static void main(String[] args) throws IOException, InterruptedException, ExecutionException {
    PrintStream answers = new PrintStream(System.out, false, StandardCharsets.UTF_8);
    FhirValidator validator = validator(args.length > 0 ? Files.readAllLines(Path.of(args[0])) : List.of());
    ExecutorService workers = Executors.newFixedThreadPool(Runtime.getRuntime().availableProcessors());
    try (BufferedReader lines = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8))) {
      Deque<Future<String>> judged = new ArrayDeque<>();
      for (String line = lines.readLine(); line != null; line = lines.readLine()) {
        String resource = line;
        judged.add(workers.submit(() -> judge(validator, resource)));
        if (judged.size() > AHEAD) answers.println(judged.remove().get());
      }
      while (!judged.isEmpty()) answers.println(judged.remove().get());
    } finally {
      workers.shutdown();
    }
    answers.flush();
  }

  /** Definitions of ours, by address with and without version. */
  private static final class Ours implements IValidationSupport {
    private final FhirContext r4;
    private final Map<String, IBaseResource> known = new HashMap<>();

    Ours(FhirContext r4, List<String> definitions) {
      this.r4 = r4;
      for (String json : definitions) {
        MetadataResource definition = (MetadataResource) r4.newJsonParser().parseResource(json);
        known.put(definition.getUrl(), definition);
        known.put(definition.getUrl() + "|" + definition.getVersion(), definition);
      }
    }

    @Override
    public FhirContext getFhirContext() {
      return r4;
    }

    @Override
    public <T extends IBaseResource> T fetchResource(Class<T> type, String address) {
      IBaseResource found = known.get(address);
      return type != null && type.isInstance(found) ? type.cast(found) : null;
    }
  }

  private static FhirValidator validator(List<String> definitions) {
    FhirContext r4 = FhirContext.forR4();
    // Code systems that HL7 does not ship with R4 (SNOMED CT, LOINC, our own) are remarked on, not refused.
    UnknownCodeSystemWarningValidationSupport elsewhere = new UnknownCodeSystemWarningValidationSupport(r4);
    elsewhere.setNonExistentCodeSystemSeverity(IValidationSupport.IssueSeverity.WARNING);
    FhirInstanceValidator instances =
        new FhirInstanceValidator(
            new ValidationSupportChain(
                new DefaultProfileValidationSupport(r4),
                new Ours(r4, definitions),
                new InMemoryTerminologyServerValidationSupport(r4),
                new CommonCodeSystemsTerminologyService(r4),
                new SnapshotGeneratingValidationSupport(r4),
                elsewhere));
    // Everything it has to say is heard; what is not an error is explained by us, one by one.
    instances.setBestPracticeWarningLevel(BestPracticeWarningLevel.Warning);
    instances.setAnyExtensionsAllowed(true);
    instances.setNoTerminologyChecks(false);
    return r4.newValidator().registerValidatorModule(instances);
  }

  private static String judge(FhirValidator validator, String resource) throws IOException {
    ObjectNode answer = JSON.createObjectNode();
    ArrayNode issues = answer.putArray("issue");
    for (SingleValidationMessage message : validator.validateWithResult(resource).getMessages()) {
      ObjectNode issue = issues.addObject();
      issue.put("severity", message.getSeverity().getCode());
      issue.put("code", message.getMessageId());
      issue.put("diagnostics", message.getMessage());
      issue.put("expression", message.getLocationString());
    }
    return JSON.writeValueAsString(answer);
  }
}
