package fingerpost.interop;

import ca.uhn.fhir.batch2.jobs.config.Batch2JobsConfig;
import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings;
import ca.uhn.fhir.jpa.api.config.ThreadPoolFactoryConfig;
import ca.uhn.fhir.jpa.api.dao.IFhirSystemDao;
import ca.uhn.fhir.jpa.batch2.JpaBatch2Config;
import ca.uhn.fhir.jpa.binary.api.IBinaryStorageSvc;
import ca.uhn.fhir.jpa.binstore.MemoryBinaryStorageSvcImpl;
import ca.uhn.fhir.jpa.config.HapiJpaConfig;
import ca.uhn.fhir.jpa.config.r4.JpaR4Config;
import ca.uhn.fhir.jpa.config.util.HapiEntityManagerFactoryUtil;
import ca.uhn.fhir.jpa.model.config.PartitionSettings;
import ca.uhn.fhir.jpa.model.config.SubscriptionSettings;
import ca.uhn.fhir.jpa.model.dialect.HapiFhirH2Dialect;
import ca.uhn.fhir.jpa.provider.IJpaSystemProvider;
import ca.uhn.fhir.jpa.provider.JpaCapabilityStatementProvider;
import ca.uhn.fhir.jpa.search.DatabaseBackedPagingProvider;
import ca.uhn.fhir.jpa.subscription.channel.config.SubscriptionChannelConfig;
import ca.uhn.fhir.jpa.subscription.match.config.SubscriptionProcessorConfig;
import ca.uhn.fhir.jpa.subscription.match.deliver.email.IEmailSender;
import ca.uhn.fhir.jpa.subscription.submit.config.SubscriptionSubmitterConfig;
import ca.uhn.fhir.rest.api.EncodingEnum;
import ca.uhn.fhir.rest.server.RestfulServer;
import ca.uhn.fhir.rest.server.provider.ResourceProviderFactory;
import ca.uhn.fhir.rest.server.util.ISearchParamRegistry;
import jakarta.persistence.EntityManagerFactory;
import java.io.IOException;
import java.io.OutputStream;
import java.util.Properties;
import javax.sql.DataSource;
import org.eclipse.jetty.ee10.servlet.ServletContextHandler;
import org.eclipse.jetty.ee10.servlet.ServletHolder;
import org.eclipse.jetty.server.Server;
import org.eclipse.jetty.server.ServerConnector;
import org.h2.jdbcx.JdbcConnectionPool;
import org.springframework.beans.factory.config.ConfigurableListableBeanFactory;
import org.springframework.context.annotation.AnnotationConfigApplicationContext;
import org.springframework.context.annotation.Bean;
import org.springframework.context.annotation.Configuration;
import org.springframework.context.annotation.Import;
import org.springframework.context.annotation.Primary;
import org.springframework.orm.jpa.JpaTransactionManager;
import org.springframework.orm.jpa.LocalContainerEntityManagerFactoryBean;
import org.springframework.transaction.annotation.EnableTransactionManagement;

/**
 * A stock HAPI FHIR JPA server for R4 over H2 in memory, on 127.0.0.1 only, with the settings it comes with except where a
 * comment says why. First argument: the port, 0 for any free one; second, if given: "attended". Prints "ready URL" when it
 * answers; ends on a signal, an attended one also when its input is closed, and with it all that was stored.
 */
public final class StockServer {
  private static final int PAGE_USUAL = 50;
  private static final int PAGE_AT_MOST = 500;

  public static void main(String[] args) throws Exception {
    int port = args.length > 0 ? Integer.parseInt(args[0]) : 0;
    if (args.length > 1 && args[1].equals("attended")) endWithInput();
    AnnotationConfigApplicationContext beans = new AnnotationConfigApplicationContext(Assembly.class);
    Server http = new Server();
    ServerConnector door = new ServerConnector(http);
    door.setHost("127.0.0.1");
    door.setPort(port);
    http.addConnector(door);
    ServletContextHandler rooms = new ServletContextHandler("/");
    rooms.addServlet(new ServletHolder(beans.getBean(RestfulServer.class)), "/fhir/*");
    http.setHandler(rooms);
    http.setStopAtShutdown(true);
    http.start();
    System.out.println("ready http://127.0.0.1:" + door.getLocalPort() + "/fhir");
    http.join();
  }

  /** A test run that is killed cannot stop its server, but its end of the pipe closes. */
  private static void endWithInput() {
    Thread watch =
        new Thread(
            () -> {
              try {
                System.in.transferTo(OutputStream.nullOutputStream());
              } catch (IOException broken) {
                // as good as closed
              }
              Runtime.getRuntime().halt(0);
            });
    watch.setDaemon(true);
    watch.start();
  }

  @Configuration
  @EnableTransactionManagement
  @Import({
    JpaR4Config.class,
    HapiJpaConfig.class,
    JpaBatch2Config.class,
    Batch2JobsConfig.class,
    SubscriptionSubmitterConfig.class,
    SubscriptionProcessorConfig.class,
    SubscriptionChannelConfig.class,
    ThreadPoolFactoryConfig.class
  })
  static class Assembly {
    @Bean
    JpaStorageSettings storageSettings() {
      JpaStorageSettings settings = new JpaStorageSettings();
      // Tests begin on an empty store: only "expunge" takes the history along.
      settings.setExpungeEnabled(true);
      settings.setAllowMultipleDelete(true);
      // A result kept for a minute would show a test what was stored before its write.
      settings.setReuseCachedSearchResultsForMillis(null);
      return settings;
    }

    @Bean
    PartitionSettings partitionSettings() {
      return new PartitionSettings();
    }

    @Bean
    SubscriptionSettings subscriptionSettings() {
      return new SubscriptionSettings();
    }

    @Bean
    IBinaryStorageSvc binaryStorage() {
      return new MemoryBinaryStorageSvcImpl();
    }

    /** The parts for subscriptions ask for one; nobody subscribes here. */
    @Bean
    IEmailSender noEmail() {
      return details -> {
        throw new UnsupportedOperationException("this server sends no mail");
      };
    }

    @Bean
    DataSource dataSource() {
      JdbcConnectionPool pool = JdbcConnectionPool.create("jdbc:h2:mem:stock;DB_CLOSE_DELAY=-1", "sa", "");
      pool.setMaxConnections(32);
      return pool;
    }

    @Bean
    @Primary
    LocalContainerEntityManagerFactoryBean entityManagerFactory(
        ConfigurableListableBeanFactory beans, FhirContext fhir, JpaStorageSettings settings, DataSource source) {
      LocalContainerEntityManagerFactoryBean factory =
          HapiEntityManagerFactoryUtil.newEntityManagerFactory(beans, fhir, settings);
      factory.setPersistenceUnitName("stock");
      factory.setDataSource(source);
      Properties properties = new Properties();
      properties.put("hibernate.dialect", HapiFhirH2Dialect.class.getName());
      properties.put("hibernate.hbm2ddl.auto", "update");
      properties.put("hibernate.search.enabled", "false");
      factory.setJpaProperties(properties);
      return factory;
    }

    @Bean
    @Primary
    JpaTransactionManager transactionManager(EntityManagerFactory factory) {
      return new JpaTransactionManager(factory);
    }

    @Bean
    RestfulServer restfulServer(
        FhirContext fhir,
        IFhirSystemDao<?, ?> store,
        IJpaSystemProvider system,
        ResourceProviderFactory providers,
        JpaStorageSettings settings,
        ISearchParamRegistry searchParameters,
        IValidationSupport definitions,
        DatabaseBackedPagingProvider pages) {
      RestfulServer server = new RestfulServer(fhir);
      server.registerProviders(providers.createProviders());
      server.registerProvider(system);
      server.setServerConformanceProvider(
          new JpaCapabilityStatementProvider(server, store, settings, searchParameters, definitions));
      server.setDefaultResponseEncoding(EncodingEnum.JSON);
      pages.setDefaultPageSize(PAGE_USUAL);
      pages.setMaximumPageSize(PAGE_AT_MOST);
      server.setPagingProvider(pages);
      return server;
    }
  }
}
